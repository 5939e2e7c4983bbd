/**
 * The course of one person: ten years of weekly tests with bounds on every time, all figures under all three rule sets,
 * against JSON.parse of the course that comes out, which is about the least that reading it from a store takes. A second
 * one with bounds so wide that neighbours overlap everywhere, and a third of a year, as a clinic's month has thousands.
 */
import { type Course, type CourseInput, courseOf } from '../../src/clinic/course/course-of.ts';
import type { ErrorTest } from '../../src/clinic/course/error-tests.ts';
import type { CoursePoint } from '../../src/clinic/facts.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { formatWall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { reportLimit, secondsOf } from './lib/report.ts';

const SEED = Number(process.env['SEED'] ?? 20260301);
const DAY = 86_400_000;
const NOW = Date.UTC(2026, 2, 2, 10);
const ZONE = zoneOf('Europe/Lisbon');

/** Weekly tests up to now, each within so many minutes either way, and one error test in fifty. */
function lifeOf(weeks: number, uncertainMinutes: number): CourseInput {
  const chance = chanceFrom(SEED);
  const points: CoursePoint[] = [];
  const errors: ErrorTest[] = [];
  for (let week = 0; week < weeks; week++) {
    const at = Math.round(NOW - (weeks - week) * 7 * DAY + chance.normal(0, DAY));
    const either = chance.between(0, uncertainMinutes * 60_000);
    const time = { at: instant(at), earliest: instant(at - either), latest: instant(Math.min(NOW, at + either)) };
    points.push({ id: `D1-${week}`, time, value: Math.round(chance.normal(26, 6)) / 10 });
    if (chance.happens(0.02)) errors.push({ id: `D1-e${week}`, time, code: `E${chance.whole(1, 8)}` });
  }
  const target = (week: number, low: number) => ({ from: instant(NOW - week * 7 * DAY), low, high: low + 1 });
  return {
    points,
    errors,
    targets: [target(weeks + 1, 2), target(Math.round(weeks / 2), 2.5), target(Math.round(weeks / 4), 2)],
    now: instant(NOW),
    localDate: (at: Instant) => formatWall(ZONE.wallAt(at), DAY),
    planDays: 7,
    clinicErrorRate: 0.02,
  };
}

function measure(what: string, input: CourseInput, aimMs: number): void {
  const course: Course = courseOf(input);
  if (course.timeInRange[0]?.kind !== 'known' || course.timeInRange[0].bounds.kind !== 'known')
    throw new Error(`no time in range: ${JSON.stringify(course.timeInRange[0])}`);
  const text = JSON.stringify(course);
  // A report makes thousands of courses in one run: what counts is the compiled code.
  for (let i = 0; i < 60; i++) courseOf(input);
  const parseMs = 1000 * secondsOf(() => JSON.parse(text));
  const figureMs = 1000 * secondsOf(() => courseOf(input), 31);
  const baseline = `JSON.parse of the same course ${parseMs.toPrecision(3)} ms, ratio ${(figureMs / parseMs).toFixed(1)}`;
  reportLimit(`${what}, ${input.points.length} tests (${baseline})`, figureMs, aimMs, 'ms');
}

console.log(`  seed ${SEED}`);
measure('ten years of weekly tests', lifeOf(520, 30), 5);
measure('ten years, bounds of up to eight days either way', lifeOf(520, 8 * 1440), 5);
measure('one year of weekly tests', lifeOf(52, 30), 1);
