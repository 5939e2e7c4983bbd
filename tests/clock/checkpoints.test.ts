/** Downloads from which placing can go on: what is kept there, and that going on says the same as placing all. */
import { describe, expect, it } from 'vitest';
import { place } from '../../src/clock/place.ts';
import { download, historyOf, placed, setting, showing, stamped, utc, wallOf } from './hand-made.ts';

type Items = Parameters<typeof historyOf>[0];
const DAY = 86_400_000;
/** 100 parts per million of a length in ms of wall time, ms. */
const drifted = (ms: number): number => (ms * 1e-4) / (1 - 1e-4);
const right = (id: string, at: string, tookMs = 100) => download(id, [showing(at, at, tookMs)]);

/** Every checkpoint of a history, and what is placed from there on. */
function onwards(items: Items) {
  const history = historyOf(items);
  const whole = place(history);
  return whole.checkpoints.map((checkpoint) => {
    const from = items.findIndex(({ id }) => id === checkpoint.readout);
    return { whole, checkpoint, part: place({ ...history, items: history.items.slice(from) }, checkpoint) };
  });
}

function saysTheSame(items: Items): void {
  const all = onwards(items);
  expect(all.length).toBeGreaterThan(0);
  for (const { whole, checkpoint, part } of all) {
    expect(part.tests).toEqual(whole.tests.slice(whole.tests.length - part.tests.length));
    expect(part.incidents).toEqual(whole.incidents.slice(checkpoint.incidents));
    expect(part.drift).toEqual(whole.drift);
    expect(part.atStart).toEqual(checkpoint.tight);
    expect(part.checkpoints).toEqual(whole.checkpoints.slice(whole.checkpoints.length - part.checkpoints.length));
  }
}

// Right until the third download, an hour ahead at the fourth and the fifth. The second took 30 s to answer.
const HOUR_AHEAD = [
  stamped('a', '2026-02-27T10:00:00'),
  right('D1', '2026-03-02T10:00:00'),
  stamped('b', '2026-03-04T10:00:00'),
  right('D2', '2026-03-12T10:00:00', 30_000),
  stamped('c', '2026-03-13T10:00:00'),
  right('D3', '2026-03-13T20:00:00'),
  stamped('d', '2026-03-14T10:00:00'),
  download('D4', [showing('2026-03-22T10:00:00', '2026-03-22T11:00:00')]),
  stamped('e', '2026-03-23T10:00:00'),
  download('D5', [showing('2026-04-01T10:00:00', '2026-04-01T11:00:00')]),
  stamped('f', '2026-04-02T11:00:00'),
];

describe('a download from which placing can go on', () => {
  it('is any before which a gap ends, with what is known there of offset, drift and incidents', () => {
    const { checkpoints, drift } = placed(HOUR_AHEAD);
    const at = (i: number) => checkpoints[i];
    expect(checkpoints.map(({ readout, incidents }) => [readout, incidents])).toEqual([
      ['D1', 0],
      ['D2', 0],
      ['D3', 0],
      ['D4', 1],
      ['D5', 1],
    ]);
    // -0.1 to 1 s by itself; the second leaves -30 to 1 s, of which the first and 10 days of drift take nothing away.
    expect(at(0)?.reach).toEqual({ lo: -100, hi: 1000 });
    expect(at(1)?.reach).toEqual({ lo: -30_000, hi: 1000 });
    // The third is 34 hours later: 12.24 s of drift.
    const later = drifted(34 * 3_600_000 + 1000);
    expect(at(1)?.tight.lo).toBeCloseTo(-100 - later, 3);
    expect(at(1)?.tight.hi).toBe(1000);
    expect(at(3)?.reach).toEqual({ lo: 3_599_900, hi: 3_601_000 });
    // Nothing is known of drift at the first, of which it is the first anchor; at the fourth a new epoch begins.
    expect(at(0)?.drift).toStrictEqual({
      weight: 0,
      weighted: 0,
      start: { wall: wallOf('2026-03-02T10:00:00'), lo: -100, hi: 1000 },
    });
    expect(at(3)?.drift.weight).toBeGreaterThan(0);
    expect(at(3)?.drift.start).toEqual({ wall: wallOf('2026-03-22T11:00:00'), lo: 3_599_900, hi: 3_601_000 });
    expect(at(3)?.drift).not.toHaveProperty('end');
    expect(at(2)?.drift.start).toEqual(at(0)?.drift.start);
    expect(at(2)?.drift.end?.wall).toBe(wallOf('2026-03-13T20:00:00'));
    expect(drift.learned).toBe(true);
    expect(JSON.parse(JSON.stringify(checkpoints))).toStrictEqual(checkpoints);
  });

  it('keeps what the downloads before it leave of a dull answer', () => {
    // An hour after a sharp answer: 0.36 s of drift.
    const items = [
      right('D1', '2026-03-02T10:00:00'),
      right('D2', '2026-03-02T11:00:00', 30_000),
      right('D3', '2026-03-12T11:00:00'),
    ];
    const { checkpoints } = placed(items);
    expect(checkpoints.map(({ readout }) => readout)).toEqual(['D2']);
    expect(checkpoints[0]?.reach.lo).toBeCloseTo(-100 - drifted(3_600_000 + 1000), 3);
    expect(checkpoints[0]?.reach.hi).toBe(1000);
    saysTheSame(items);
  });

  it('gives the same as placing the whole history', () => saysTheSame(HOUR_AHEAD));

  it('says where the history begins only where it begins at one', () => {
    expect(place(historyOf(HOUR_AHEAD))).not.toHaveProperty('atStart');
    const [start] = placed(HOUR_AHEAD).checkpoints;
    // Without a gap that it could begin, nothing is said either.
    const test = place(historyOf([stamped('a', '2026-03-02T10:00:00')]), start);
    expect(test).toMatchObject({ incidents: [], checkpoints: [], gaps: [] });
    expect(test).not.toHaveProperty('atStart');
    expect(test.drift).toEqual({ rate: 0, sd: Math.sqrt(4e-10 + 1e-12), learned: false });
  });

  it('knows the rate of the gap before where that may be fast drift, which the next may then be, too', () => {
    // 300 ppm: 777.6 s in 30 days.
    const month = (k: number) => new Date(Date.UTC(2026, 0, 1, 10) + k * 30 * DAY).toISOString().slice(0, 19);
    const ahead = (k: number) => new Date(Date.parse(`${month(k)}Z`) + k * 777_600).toISOString().slice(0, 19);
    const items = [0, 1, 2, 3].map((k) => download(`D${k}`, [showing(month(k), ahead(k))]));
    const { checkpoints, incidents } = placed(items);
    expect(incidents.map(({ kind }) => kind)).toEqual(['fast-drift', 'fast-drift', 'fast-drift']);
    expect(checkpoints.map(({ rateBefore }) => Math.round(rateBefore ?? 0))).toEqual([300, 300]);
    saysTheSame(items);
    const [first] = placed(HOUR_AHEAD).checkpoints;
    expect(first).not.toHaveProperty('rateBefore');
  });

  it('may be one in which the gateway set the clock: nothing of the clock before is kept', () => {
    const at = '2026-03-12T10:00:05';
    const items = [
      right('D1', '2026-03-02T10:00:00'),
      stamped('a', '2026-03-04T10:00:00'),
      download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:20'), setting(at, at)]),
      stamped('b', '2026-03-13T10:00:00'),
      right('D3', '2026-03-22T10:00:00'),
      right('D4', '2026-03-23T10:00:00'),
    ];
    const { checkpoints } = placed(items);
    expect(checkpoints.map(({ readout }) => readout)).toEqual(['D2', 'D3']);
    expect(checkpoints[0]?.reach).toEqual({ lo: -100, hi: 1000 });
    expect(checkpoints[0]?.drift).not.toHaveProperty('start');
    expect(checkpoints[0]?.drift.weight).toBeGreaterThan(0);
    saysTheSame(items);
  });

  it('is none that shows two clocks by itself', () => {
    // In the middle of the second download somebody set the clock 10 minutes ahead.
    const items = [
      right('D1', '2026-03-02T10:00:00'),
      download('D2', [
        showing('2026-03-12T10:00:00', '2026-03-12T10:00:00'),
        showing('2026-03-12T10:00:30', '2026-03-12T10:10:30'),
      ]),
      download('D3', [showing('2026-03-22T10:00:00', '2026-03-22T10:10:00')]),
      download('D4', [showing('2026-03-23T10:00:00', '2026-03-23T10:10:00')]),
    ];
    expect(placed(items).checkpoints.map(({ readout }) => readout)).toEqual(['D3']);
    saysTheSame(items);
  });
});

describe('a clock that the gateway set in the first download', () => {
  it('leaves tests before it to the order alone where that download did not show it first', () => {
    const at = '2026-03-02T10:00:05';
    const { of } = placed([
      stamped('a', '2026-03-01T10:00:00'),
      download('D1', [setting(at, at)]),
      stamped('b', '2026-03-04T10:00:00'),
      right('D2', '2026-03-12T10:00:00'),
    ]);
    expect([of('a').basis, of('b').basis]).toEqual(['bounded', 'interpolated']);
    expect(of('a').latest).toBe(utc(at) + 100);
  });

  it('teaches nothing with what it showed before, whether or not tests came before', () => {
    const at = '2026-03-02T10:00:05';
    const { drift, of } = placed([
      stamped('a', '2026-03-01T10:00:00'),
      download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T09:50:00'), setting(at, at)]),
      right('D2', '2026-04-01T10:00:00'),
    ]);
    expect(drift.learned).toBe(true);
    // 10 minutes in 30 days would be 231 ppm.
    expect(Math.abs(drift.rate)).toBeLessThan(0.5e-6);
    expect(of('a').takenAt).toBe(utc('2026-03-01T10:10:00') + 50);
  });
});
