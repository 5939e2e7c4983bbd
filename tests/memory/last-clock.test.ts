/** What the meter's clock says of a told test, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ClockEvent } from '../../src/core/download.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { clockAfter, clockEvidence } from '../../src/memory/last-clock.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, START, test } from './meter-words.ts';

const DAY = 86_400_000;
const MINUTE = 60_000;
const SEED = seedOr(20260301);

const at = (ms: number): Instant => instant(START + ms);
const stamp = (ms: number) => ({ ...meterTimeOf(wall(START + ms), 1000), wall: wall(START + ms) });
const shown = (ms: number, when = ms): ClockEvent => ({
  kind: 'anchor',
  shown: stamp(ms),
  from: at(when - 100),
  to: at(when),
});
const set = (ms: number, outcome: 'confirmed' | 'refused' | 'unknown'): ClockEvent => ({
  kind: 'set',
  asked: wall(START + ms),
  from: at(ms - 100),
  to: at(ms),
  outcome,
});
const told = (ms: number, more = {}) => ({
  record: { ...test(1), meterTime: stamp(ms), ...more },
});

describe('the clock after a download', () => {
  const until = at(10_000);
  const said = (...clock: ClockEvent[]) => clockAfter(download(0, [], { clock, until }));

  it('is what it showed last, and the time since', () => {
    expect(said(shown(1000), shown(4000, 6000))).toEqual({ shown: START + 8000, at: until });
  });

  it('is what it was set to, where that was confirmed', () => {
    expect(said(shown(1000), set(7000, 'confirmed'))).toEqual({ shown: START + 10_000, at: until });
  });

  it('is not sure where the last that is known is a setting of unknown end, or that it was not set', () => {
    expect(said(shown(1000), set(7000, 'unknown'))).toBeUndefined();
    expect(said(shown(1000), set(7000, 'refused'))).toBeUndefined();
    expect(said(shown(1000), { kind: 'unset', from: at(6000), to: at(7000) })).toBeUndefined();
    expect(said()).toBeUndefined();
  });
});

describe('a told test', () => {
  const before = { shown: wall(START), at: at(0) };
  const evidence = (clock: ClockEvent[], from: typeof before | undefined = before) =>
    clockEvidence(download(10, [], { clock }), from);
  const ranOn = evidence([shown(10 * DAY)]);

  it('is stamped before the last download, since, or neither', () => {
    // A stamp stands for a second.
    expect(ranOn.stampedWhen(told(-1000))).toBe('before');
    expect(ranOn.stampedWhen(told(-999))).toBeUndefined();
    expect(ranOn.stampedWhen(told(2 * MINUTE))).toBeUndefined();
    expect(ranOn.stampedWhen(told(2 * MINUTE + 1))).toBe('since');
    expect(ranOn.stampedWhen(told(10 * DAY + 2 * MINUTE))).toBe('since');
    expect(ranOn.stampedWhen(told(10 * DAY + 2 * MINUTE + 1))).toBeUndefined();
    expect(evidence([]).stampedWhen(told(DAY))).toBeUndefined();
    expect(clockEvidence(download(10, [], { clock: [shown(10 * DAY)] }), undefined).stampedWhen(told(-DAY))).toBe(
      undefined,
    );
    expect(ranOn.stampedWhen(told(0, { meterTime: undefined }))).toBeUndefined();
  });

  it('is backdated where it is stamped well before, and the clock ran on', () => {
    expect(ranOn.isBackdated(told(-2 * MINUTE - 1001))).toBe(true);
    expect(ranOn.isBackdated(told(-2 * MINUTE - 1000))).toBe(false);
    expect(ranOn.isBackdated(told(0, { meterTime: undefined }))).toBe(false);
    // Ten days allow for 2 min and 300 ppm, 259.2 s.
    const off = (ms: number) => evidence([shown(10 * DAY + ms, 10 * DAY)]).isBackdated(told(-DAY));
    expect([379_200, 379_201, -379_200, -379_201].map(off)).toEqual([true, false, true, false]);
    expect(evidence([]).isBackdated(told(-DAY))).toBe(false);
  });

  it('may repeat a stamp of the two days after the clock begins anew, where power losses are not counted', () => {
    const reset = wall(START);
    const { mayRepeat } = clockEvidence(download(10, [], { resetStamp: reset }), undefined);
    expect([-1, 0, 2 * DAY - 1, 2 * DAY].map((ms) => mayRepeat(told(ms)))).toEqual([false, true, true, false]);
    expect(mayRepeat(told(0, { lossCount: 1 }))).toBe(false);
    expect(mayRepeat(told(0, { meterTime: undefined }))).toBe(true);
    // Where the meter does not say, from New Year's Day on.
    const newYear = Date.UTC(2026, 0, 1) - START;
    expect([0, 2 * DAY - 1, 2 * DAY].map((ms) => ranOn.mayRepeat(told(newYear + ms)))).toEqual([true, true, false]);
  });
});

it(`what is backdated is stamped before the last download, and a later stamp is no more before than an earlier one (SEED=${SEED})`, () => {
  const moment = fc.integer({ min: -2 * DAY, max: 12 * DAY });
  fc.assert(
    fc.property(moment, moment, fc.option(moment, { nil: undefined }), (a, b, now) => {
      const [early, late] = [Math.min(a, b), Math.max(a, b)];
      const clock = now === undefined ? [] : [shown(now, 10 * DAY)];
      const said = clockEvidence(download(10, [], { clock }), { shown: wall(START), at: at(0) });
      if (said.isBackdated(told(early))) expect(said.stampedWhen(told(early))).toBe('before');
      if (said.stampedWhen(told(late)) === 'before') expect(said.stampedWhen(told(early))).toBe('before');
      if (said.isBackdated(told(late))) expect(said.isBackdated(told(early))).toBe(true);
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
