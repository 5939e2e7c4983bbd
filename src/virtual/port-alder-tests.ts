/**
 * What the meters of Port Alder measure over its year: the people's INR, control tests, errors; the strip lots by
 * date, one of which reads high, and the box that somebody went on using after its expiry.
 */
import { type Instant, instant } from '../core/instant.ts';
import type { Chance } from './chance.ts';
import { type Course, measured } from './course.ts';
import type { TestFacts } from './memory.ts';
import type { Townsperson } from './port-alder-people.ts';

/** A strip lot of the clinic. */
export interface ClinicLot {
  readonly lot: string;
  /** Keyed into the meter. */
  readonly code: string;
  /** Last day, `YYYY-MM-DD`. */
  readonly expiry: string;
  /** In use from this moment until the next lot. */
  readonly from: Instant;
  /** By how much it reads too high. */
  readonly factor: number;
}

/** A level of a control material. */
export interface ClinicControl {
  readonly lot: string;
  readonly level: string;
  readonly mean: string;
  readonly sd: string;
  readonly isElectronic: boolean;
}

/** The control materials of the year. */
export const CONTROLS: readonly ClinicControl[] = [
  { lot: 'QC7731', level: '1', mean: '1.20', sd: '0.06', isElectronic: false },
  { lot: 'QC7731', level: '2', mean: '3.00', sd: '0.15', isElectronic: false },
  { lot: 'EC-1', level: 'electronic', mean: '5.00', sd: '0.05', isElectronic: true },
];

const DAY_MS = 86_400_000;
/** How much too high the third lot reads: the shift that is to be found. */
const SHIFT = 1.14;

/** The four lots of a year that begins at `from`; the first expires soon after the second came into use. */
export function clinicLots(from: Instant, days: number): ClinicLot[] {
  const day = (share: number): Instant => instant(from + Math.round(share * days) * DAY_MS);
  const date = (at: Instant): string => new Date(at).toISOString().slice(0, 10);
  return [
    { lot: '4471903', code: '903', expiry: date(day(0.34)), from, factor: 1 },
    { lot: '4472618', code: '618', expiry: date(day(1.2)), from: day(0.3), factor: 1 },
    { lot: '4473377', code: '377', expiry: date(day(1.4)), from: day(0.55), factor: SHIFT },
    { lot: '4474052', code: '052', expiry: date(day(1.8)), from: day(0.75), factor: 1 },
  ];
}

/** A meter's course of tests. */
export interface Testing {
  /** Whose turn it is at this moment, and whether the id is keyed in rightly, wrongly or not at all. */
  readonly who: (at: Instant) => Townsperson;
  readonly isShared: boolean;
  readonly lots: readonly ClinicLot[];
  /** Tests until this moment are made with the first lot whatever its expiry. */
  readonly oldBoxUntil?: Instant;
  /** Two of three tests in this stretch end in an error. */
  readonly errorsIn?: readonly [from: Instant, to: Instant];
  /** Control tests of level 2 in this stretch read far too high. */
  readonly controlFailsIn?: readonly [from: Instant, to: Instant];
}

/** Two neighbouring digits exchanged, as a hurried thumb does. */
const slipped = (id: string): string =>
  id.replace(/(\d)(\d)(\d)$/, (whole, a: string, b: string, c: string) => (a === b ? whole : `${b}${a}${c}`));

/** The tests of one meter of the clinic. */
export function clinicCourse(chance: Chance, testing: Testing): Course {
  const away = new Map<string, number>();
  const within = (stretch: readonly [Instant, Instant] | undefined, at: Instant): boolean =>
    stretch !== undefined && at >= stretch[0] && at < stretch[1];
  const { lots, isShared } = testing;

  return {
    next(at): TestFacts {
      const inUse = lots.findLast((l) => l.from <= at);
      const lot = testing.oldBoxUntil !== undefined && at < testing.oldBoxUntil ? lots[0] : (inUse ?? lots[0]);
      const factor = lot?.factor ?? 1;
      const strip = lot ? { lot: lot.lot } : {};
      const keyed = isShared ? { operator: `OP${chance.whole(1, 4)}` } : {};
      if (chance.happens(within(testing.errorsIn, at) ? 0.65 : 0.025))
        return { kind: 'error', values: [], errorCode: `E${chance.whole(1, 8)}`, ...strip, ...keyed };
      const isLateControl = within(testing.controlFailsIn, at);
      if (chance.happens(isLateControl ? 0.4 : isShared ? 0.12 : 0.03)) {
        const control = isLateControl ? CONTROLS[1] : CONTROLS[chance.whole(0, CONTROLS.length - 1)];
        const { mean, sd, isElectronic } = control ?? CONTROLS[0] ?? { mean: '1.2', sd: '0.06', isElectronic: false };
        const off = isLateControl ? 6 : chance.normal(0, 0.7);
        const value = (Number(mean) + off * Number(sd)) * (isElectronic ? 1 : 1 + (factor - 1) / 3);
        return { kind: 'control', ...measured(chance, value), ...(isElectronic ? {} : strip), ...keyed };
      }
      const person = testing.who(at);
      const moved = 0.5 * (away.get(person.id) ?? 0) + chance.normal(0, chance.happens(0.04) ? 0.45 : person.unrest);
      away.set(person.id, moved);
      const slip = chance.next();
      const patientId = slip < 0.03 ? slipped(person.id) : person.id;
      const inr = Math.max(1, person.usual * Math.exp(moved) * factor);
      const named = isShared && slip < 0.85 ? { patientId } : {};
      return { kind: 'patient', ...measured(chance, inr), ...strip, ...keyed, ...named };
    },
  };
}
