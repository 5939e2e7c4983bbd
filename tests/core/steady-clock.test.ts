/** The clock of one conversation: even whatever is done to the PC's clock, and aware that something was done. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { steadyClock } from '../../src/core/steady-clock.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const START = Date.UTC(2026, 2, 2, 10, 0, 0);

/** A PC whose two clocks a test can move. */
function pc() {
  const time = { wall: START, mono: 5_000_000 };
  const clock = steadyClock(
    () => instant(time.wall),
    () => time.mono,
  );
  return {
    clock,
    time,
    /** Lets time pass; the PC's clock runs fast by so many millionths. */
    pass(ms: number, ppm = 0): void {
      time.mono += ms;
      time.wall += ms * (1 + ppm * 1e-6);
    },
  };
}

describe('the clock of a conversation', () => {
  it('shows the PC’s time and no step while nobody touches anything', () => {
    const { clock, pass } = pc();
    pass(90_000);
    expect(clock.now()).toBe(START + 90_000);
    expect(clock.stepS()).toBeUndefined();
  });

  it.each([-3600, -1.2, 1.2, 3600, 86_400 * 365])(
    'runs on evenly when the PC’s clock is changed by %s s, and says so',
    (stepS) => {
      const { clock, time, pass } = pc();
      pass(10_000);
      time.wall += stepS * 1000;
      expect(clock.now()).toBe(START + 10_000);
      pass(5000);
      expect(clock.now()).toBe(START + 15_000);
      expect(clock.stepS()).toBe(stepS);
    },
  );

  it('remembers a step that was taken back, and of several the one that led furthest away', () => {
    const { clock, time } = pc();
    for (const [step, seen] of [
      [-2000, -2],
      [5000, 3],
      [-3000, 3],
    ] as const) {
      time.wall += step;
      clock.now();
      expect(clock.stepS()).toBe(seen);
    }
  });

  it('takes two crystals that drift apart over an hour for no step, and half a second neither', () => {
    const { clock, time, pass } = pc();
    for (let minute = 0; minute < 60; minute++) {
      pass(60_000, 100);
      clock.now();
    }
    time.wall += 500;
    expect(clock.stepS()).toBeUndefined();
  });

  it(`never goes back, and is never further from the monotonic clock than rounding (SEED=${SEED})`, () => {
    const moves = fc.array(fc.record({ passed: fc.nat(100_000), step: fc.integer({ min: -1e7, max: 1e7 }) }));
    fc.assert(
      fc.property(moves, (all) => {
        const { clock, time, pass } = pc();
        const from = time.mono;
        let before = clock.now();
        for (const { passed, step } of all) {
          time.wall += step;
          pass(passed);
          const now = clock.now();
          expect(now).toBeGreaterThanOrEqual(before);
          expect(Math.abs(now - START - (time.mono - from))).toBeLessThanOrEqual(0.5);
          before = now;
        }
      }),
      { seed: SEED },
    );
  });
});
