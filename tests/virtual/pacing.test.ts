/** The arithmetic of a paced line, with a clock that is only a number. */
import { describe, expect, it } from 'vitest';
import { byteMs, createPacer } from '../../src/virtual/pacing.ts';

/** Plays timers that are up to `lateMs` late; gives the moment at which everything had left, and the pieces. */
function drain(baud: number, bytes: number, lateMs: (i: number) => number): { at: number; pieces: number[] } {
  const pacer = createPacer(baud);
  pacer.push(1000, new Uint8Array(bytes));
  let now = 1000;
  const pieces: number[] = [];
  for (let i = 0; i < 100_000; i++) {
    const { data, nextAt } = pacer.take(now);
    if (data.length > 0) pieces.push(data.length);
    if (nextAt === undefined) return { at: now, pieces };
    now = Math.max(now, nextAt) + lateMs(i);
  }
  throw new Error('it never ends');
}

describe('a paced line', () => {
  it('needs ten bits for a byte', () => {
    expect(byteMs(9600)).toBeCloseTo(1.041667, 6);
    expect(byteMs(0)).toBe(0);
  });

  it.each([1200, 9600, 115_200])(
    'takes its time to better than 1 %% at %i baud, however late its timers are',
    (baud) => {
      const bytes = 20_000;
      const wanted = (bytes * 10_000) / baud;
      for (const late of [() => 0, () => 1, (i: number) => (i * 7) % 5, (i: number) => (i % 50 === 0 ? 15 : 0.3)]) {
        const { at, pieces } = drain(baud, bytes, late);
        expect(pieces.reduce((a, b) => a + b, 0)).toBe(bytes);
        expect(at - 1000).toBeGreaterThanOrEqual(wanted - 1e-3);
        expect(at - 1000).toBeLessThan(wanted * 1.01);
      }
    },
  );

  it('lets no byte go before it would have left', () => {
    const pacer = createPacer(9600);
    pacer.push(0, new Uint8Array(100));
    for (let now = 0; now < 110; now += 0.37) {
      const before = pacer.take(now);
      if (before.data.length > 0) expect(before.leftAt).toBeLessThanOrEqual(now + 1e-3);
      if (before.nextAt !== undefined) expect(before.nextAt).toBeGreaterThan(now);
    }
  });

  it('keeps order and waits for the moment of each answer', () => {
    const pacer = createPacer(0);
    pacer.push(10, Uint8Array.of(1));
    pacer.push(5, Uint8Array.of(2));
    expect(pacer.take(9)).toMatchObject({ nextAt: 10 });
    expect([...pacer.take(10).data]).toEqual([1, 2]);
  });

  it('puts a second answer behind the first, not beside it', () => {
    const pacer = createPacer(9600);
    pacer.push(0, new Uint8Array(96));
    pacer.push(0, new Uint8Array(96));
    expect(pacer.take(100).data).toHaveLength(96);
    expect(pacer.take(200).data).toHaveLength(96);
  });

  it('forgets what waits when the cable is pulled', () => {
    const pacer = createPacer(9600);
    pacer.push(0, new Uint8Array(96));
    pacer.clear();
    expect(pacer.take(1000).data).toHaveLength(0);
  });
});
