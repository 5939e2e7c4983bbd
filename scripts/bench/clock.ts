/**
 * Placing a meter's tests: one of the clinic's own with ten power losses, a shared one with a long life from nothing,
 * and one more download of that from a checkpoint. Each against JSON.parse of the same history as text, which is about
 * the least that reading it back takes.
 */
import type { ClockHistory, ClockReadout, ClockTest } from '../../src/clock/history.ts';
import { type PlaceResult, place } from '../../src/clock/place.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { SEED } from './lib/meters.ts';
import { median, reportLimit } from './lib/report.ts';

const DAY = 86_400_000;
const ZONE = zoneOf('Europe/Lisbon');
const START = Date.UTC(2018, 0, 8);
const DRIFT = 30e-6;

interface Life {
  readonly tests: number;
  readonly downloads: number;
  readonly losses: number;
  readonly days: number;
}

/** A meter's life: tests at random moments, downloads evenly, losses corrected by hand within ten days. */
function historyOf({ tests, downloads, losses, days }: Life): ClockHistory {
  const chance = chanceFrom(SEED);
  const end = START + days * DAY;
  type Event = { readonly at: number; readonly what: 'test' | 'download' | 'loss' | 'hand' };
  const events: Event[] = [];
  for (let i = 0; i < tests; i++) events.push({ at: chance.between(START, end), what: 'test' });
  for (let i = 1; i <= downloads; i++) events.push({ at: START + (i * (end - START)) / downloads, what: 'download' });
  for (let i = 0; i < losses; i++) {
    const at = chance.between(START, end - 10 * DAY);
    events.push({ at, what: 'loss' }, { at: at + chance.between(0, 10 * DAY), what: 'hand' });
  }
  events.sort((a, b) => a.at - b.at);

  let offset = ZONE.offsetAt(instant(START));
  let since = START;
  let waiting: Omit<ClockTest, 'toldBy'>[] = [];
  const items: (ClockTest | ClockReadout)[] = [];
  for (const { at, what } of events) {
    offset += DRIFT * (at - since);
    since = at;
    const shown = meterTimeOf(wall(Math.floor(at + offset)), 1000);
    if (what === 'loss') offset = Date.UTC(2010, 0, 1) - at;
    else if (what === 'hand') offset = ZONE.offsetAt(instant(at)) + chance.between(-150_000, 150_000);
    else if (what === 'test')
      waiting.push({ kind: 'test', id: `t${items.length + waiting.length}`, stamp: shown, unset: false });
    else {
      for (const test of waiting) items.push({ ...test, toldBy: instant(Math.ceil(at) + 5000) });
      waiting = [];
      const from = instant(Math.floor(at) - 60);
      const to = instant(Math.ceil(at) + 60);
      items.push({
        kind: 'readout',
        id: `D${items.length}`,
        zone: ZONE,
        mayPrecede: 0,
        events: [{ kind: 'anchor', shown, from, to }],
      });
    }
  }
  return { items, zone: ZONE, habits: { driftPpm: 100, resets: 'new-year' } };
}

/**
 * Median of 15 rounds, ms. Memory is not collected by force in between: that throws away compiled code together with the
 * shapes of the objects that have just died, and the compiler would be measured.
 */
function milliseconds(work: () => void): number {
  const figures = Array.from({ length: 15 }, () => {
    const start = process.hrtime.bigint();
    work();
    return Number(process.hrtime.bigint() - start) / 1e6;
  });
  return median(figures);
}

/** Measures placing after some rounds that do not count; the figure stands beside that of JSON.parse. */
function measure(what: string, history: ClockHistory, aimMs: number, warmUp: number, work: () => PlaceResult): void {
  const result = work();
  const told = history.items.filter((item) => item.kind === 'test').length;
  if (result.tests.length !== told) throw new Error(`${result.tests.length} of ${told} tests were placed`);
  if (result.gaps.some((gap) => gap.times.overflow)) throw new Error('a gap had too many stories');
  const text = JSON.stringify(history);
  for (let i = 0; i < warmUp; i++) {
    work();
    JSON.parse(text);
  }
  const parseMs = milliseconds(() => JSON.parse(text));
  const figure = milliseconds(work);
  const baseline = `JSON.parse of the same history ${parseMs.toPrecision(3)} ms, ratio ${(figure / parseMs).toFixed(1)}`;
  reportLimit(`${what} (${baseline})`, figure, aimMs, 'ms');
}

console.log(`  seed ${SEED}`);

const ordinary = historyOf({ tests: 1000, downloads: 40, losses: 10, days: 800 });
measure('1,000 results, 40 downloads, 10 losses', ordinary, 20, 40, () => place(ordinary));

const shared = historyOf({ tests: 25_000, downloads: 1500, losses: 100, days: 3000 });
measure('25,000 results, 1,500 downloads, 100 losses, from nothing', shared, 1000, 2, () => place(shared));

// As intake does it: from the checkpoint before the last, which is that of the download before.
const checkpoint = place({ ...shared, items: shared.items.slice(0, -1) }).checkpoints.at(-2);
if (!checkpoint) throw new Error('a life of 1,500 downloads without a checkpoint');
const start = shared.items.findIndex((item) => item.kind === 'readout' && item.id === checkpoint.readout);
const rest = { ...shared, items: shared.items.slice(start) };
measure('one more download of that meter', rest, 10, 40, () => place(rest, checkpoint));
