/** Meters and captures for the measurements: generated, seeded, with a printed seed. */
import type { Capture } from '../../../src/core/capture.ts';
import { type Instant, instant } from '../../../src/core/instant.ts';
import { wall } from '../../../src/core/meter-time.ts';
import { zoneOf } from '../../../src/core/zone.ts';
import { loadProfiles } from '../../../src/intake/profile-library.ts';
import { chanceFrom } from '../../../src/virtual/chance.ts';
import { createCourse } from '../../../src/virtual/course.ts';
import type { VirtualMeter } from '../../../src/virtual/meter.ts';
import { meterWithPast, weeklyMoments } from '../../../src/virtual/past.ts';
import { visit } from '../../../src/virtual/visit.ts';

export const SEED = Number(process.env['SEED'] ?? 20260301);
const ZONE = zoneOf('Europe/Lisbon');
const NOW = instant(Date.UTC(2026, 2, 2, 10, 15));

/** The profiles that come with the program. */
export const profiles = loadProfiles('');

/** A meter whose memory of `capacity` results is full. */
export function fullMeter(capacity: number, protocol: 'line' | 'astm', seed = SEED): VirtualMeter {
  const chance = chanceFrom(seed);
  const course = createCourse(chance, { people: 1, controls: 0.05, errors: 0.02, tellsExpiry: true });
  const past = {
    id: `BENCH-${protocol}`,
    model: 'GM-10',
    capacity,
    order: 'newest' as const,
    stampResolutionMs: 1000 as const,
    tellsRunNumbers: true,
    tellsLosses: true,
    defaultStamp: wall(Date.UTC(2000, 0, 1)),
    driftPpm: 20,
    clockOffMs: 0,
    clockLost: false,
    deletions: 0,
  };
  return meterWithPast(past, weeklyMoments(chance, capacity, NOW, ZONE), ZONE, NOW, chance, course);
}

/** One download of a meter, `days` after the first moment. */
export function download(meter: VirtualMeter, protocol: 'line' | 'astm', days = 0): Capture {
  const at = instant(NOW + days * 86_400_000) as Instant;
  const dock = { port: '/dev/ttyUSB0', zone: ZONE, protocol, setsClock: 'never' as const };
  return visit(meter, dock, at, { baud: 9600, cutsReads: true }, chanceFrom(SEED + days)).capture;
}
