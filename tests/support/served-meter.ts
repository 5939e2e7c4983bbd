/** A virtual meter of Port Alder on a TCP port of this computer, for tests that collect from it. */
import { type Instant, instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { NO_FAULTS, type PortFaults } from '../../src/virtual/faults.ts';
import { meterWithPast, weeklyMoments } from '../../src/virtual/past.ts';
import { virtualPort } from '../../src/virtual/port.ts';
import { type Served, serveTcp } from '../../src/virtual/serve.ts';
import { astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';

export interface ServedMeterOptions {
  readonly id?: string;
  readonly protocol?: 'line' | 'astm';
  /** Tests in its memory; 30 unless given. */
  readonly held?: number;
  /** How far its clock is off, milliseconds, positive: fast; right unless given. */
  readonly clockOffMs?: number;
  /** Its batteries ran out before the last third of its tests. */
  readonly clockLost?: boolean;
  readonly faults?: Partial<PortFaults>;
}

const SEED = 20260301;
const now = (): Instant => instant(Date.now());

/** Serves a meter until it is closed. */
export function serveMeter(options: ServedMeterOptions = {}): Promise<Served> {
  const chance = chanceFrom(SEED);
  const zone = zoneOf('Europe/Lisbon');
  const held = options.held ?? 30;
  const past = {
    id: options.id ?? 'PA-T001',
    model: 'GM-10',
    capacity: 200,
    order: 'newest' as const,
    stampResolutionMs: 1000 as const,
    tellsRunNumbers: true,
    tellsLosses: true,
    defaultStamp: wall(Date.UTC(2000, 0, 1)),
    driftPpm: 0,
    clockOffMs: options.clockOffMs ?? 0,
    clockLost: options.clockLost ?? false,
    deletions: 0,
  };
  const course = createCourse(chance, { people: 3, controls: 0.1, errors: 0.1, tellsExpiry: true });
  const meter = meterWithPast(past, weeklyMoments(chance, held, now(), zone), zone, now(), chance, course);
  const faults = { ...NO_FAULTS, ...options.faults };
  const port =
    options.protocol === 'astm'
      ? virtualPort(astmSpeaker(), meter, faults, chance, now)
      : virtualPort(lineSpeaker(), meter, faults, chance, now);
  return serveTcp(port, 0);
}
