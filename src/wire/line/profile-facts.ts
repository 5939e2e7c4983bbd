/** What decoding the line protocol needs of a meter profile, and its names put in place of the meter's own. */
import type { MeterTime } from '../../core/meter-time.ts';
import type { TestRecord } from '../../core/reading.ts';

/** A `MeterProfile` fits. */
export interface LineProfileFacts {
  readonly name: string;
  /** The meter's name of an analyte to ours. */
  readonly analytes: Readonly<Record<string, string>>;
  /** The meter's unit to UCUM. */
  readonly units: Readonly<Record<string, string>>;
  /** The coarsest step of the meter's stamps, where they look finer than they are. */
  readonly resolution?: 'seconds' | 'minutes' | 'days' | undefined;
}

/** A function that puts the profile's names and resolution in place of the meter's own. */
export function namesOf(profile: LineProfileFacts): (test: TestRecord) => TestRecord {
  const { analytes, units, resolution } = profile;
  const stepMs = resolution === 'days' ? 86_400_000 : resolution === 'minutes' ? 60_000 : 0;
  const isPlain = Object.keys(analytes).length === 0 && Object.keys(units).length === 0 && stepMs === 0;
  if (isPlain) return (test) => test;
  return (test) => ({
    ...test,
    values: test.values.map(({ analyte, value, unit }) => ({
      analyte: nameIn(analytes, analyte),
      value,
      unit: nameIn(units, unit),
    })),
    ...(test.meterTime ? { meterTime: atLeast(test.meterTime, stepMs) } : {}),
  });
}

const nameIn = (names: Readonly<Record<string, string>>, name: string): string =>
  Object.hasOwn(names, name) ? (names[name] ?? name) : name;

/** The same time at a coarser step, if it looks finer than the profile says. */
function atLeast(time: MeterTime, stepMs: number): MeterTime {
  return time.resolutionMs >= stepMs ? time : { ...time, resolutionMs: stepMs };
}
