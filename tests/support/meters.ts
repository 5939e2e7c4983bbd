/** Virtual meters for tests: some tests in the memory, a clock that is right, and a way to put them on a port. */
import type { MemoryOrder } from '../../src/core/download.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { NO_FAULTS, type PortFaults } from '../../src/virtual/faults.ts';
import { emptyMemory } from '../../src/virtual/memory.ts';
import { makeTest, type VirtualMeter } from '../../src/virtual/meter.ts';
import { type VirtualPort, virtualPort } from '../../src/virtual/port.ts';
import { ASTM_HABITS, type AstmHabits, astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { LINE_HABITS, type LineHabits, lineSpeaker } from '../../src/virtual/speak-line.ts';

const DAY_MS = 86_400_000;

/** A moment in the tests' world; nothing depends on the real date. */
export const TEST_NOW = instant(Date.UTC(2026, 2, 2, 10, 15));

export interface MeterOptions {
  readonly tests: number;
  readonly capacity?: number;
  readonly order?: MemoryOrder;
  readonly seed?: number;
  readonly errors?: number;
}

/** A meter with this many tests, one a day up to a day before TEST_NOW; its clock shows UTC and is right. */
export function meterWith({
  tests,
  capacity = 200,
  order = 'newest',
  seed = 1,
  errors = 0,
}: MeterOptions): VirtualMeter {
  const chance = chanceFrom(seed);
  const course = createCourse(chance, { people: 1, controls: 0.1, errors, tellsExpiry: true });
  let meter: VirtualMeter = {
    id: 'SN00042',
    model: 'GM-10',
    firmware: '1.0',
    memory: emptyMemory(capacity, order),
    clock: { rate: { ppm: 0 }, losses: 0, setting: { at: TEST_NOW, shows: wall(TEST_NOW) } },
    stampResolutionMs: 1000,
    clockResolutionMs: 1000,
    tellsRunNumbers: true,
    tellsLosses: true,
    tellsDefault: false,
  };
  for (let i = tests; i > 0; i--) {
    const at = instant(TEST_NOW - i * DAY_MS);
    meter = makeTest(meter, at, course.next(at));
  }
  return meter;
}

/** True time for served meters. */
export const realNow = (): Instant => instant(performance.timeOrigin + performance.now());

/** A TLP/1 meter on a port. */
export const linePort = (
  meter: VirtualMeter,
  faults: Partial<PortFaults> = {},
  habits: Partial<LineHabits> = {},
  seed = 1,
): VirtualPort =>
  virtualPort(
    lineSpeaker({ ...LINE_HABITS, ...habits }),
    meter,
    { ...NO_FAULTS, ...faults },
    chanceFrom(seed),
    realNow,
  );

/** An ASTM meter on a port. */
export const astmPort = (
  meter: VirtualMeter,
  faults: Partial<PortFaults> = {},
  habits: Partial<AstmHabits> = {},
  seed = 1,
): VirtualPort =>
  virtualPort(
    astmSpeaker({ ...ASTM_HABITS, ...habits }),
    meter,
    { ...NO_FAULTS, ...faults },
    chanceFrom(seed),
    realNow,
  );
