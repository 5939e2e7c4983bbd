/**
 * Anchors against the definition of offset and delay in RFC 5905 (NTP version 4), section 8: with T1 and T4 on the
 * asking side's clock, T2 and T3 on the other's,
 *   theta = 1/2 * [(T2 - T1) + (T3 - T4)],  delta = (T4 - T1) - (T3 - T2),
 * and the true offset lies within theta -/+ delta/2. A meter answers at once with one reading M of its clock, so
 * T2 = T3 = M; and it cuts M to whole seconds or minutes, so up to that much is to be added.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { anchorsOf } from '../../src/clock/anchors.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { seedOr } from '../support/seed.ts';

const seed = seedOr(20260301);

/** One question and its answer. */
const exchange = fc.record({
  t1: fc.integer({ min: Date.UTC(2025, 0, 1), max: Date.UTC(2027, 0, 1) }),
  there: fc.nat(3000),
  back: fc.nat(3000),
  resolutionMs: fc.constantFrom(1000, 60_000),
});
const offsets = fc.integer({ min: -40_000_000, max: 40_000_000 });

interface Exchange {
  readonly t1: number;
  readonly there: number;
  readonly back: number;
  readonly resolutionMs: number;
}

const answer = ({ t1, there, back, resolutionMs }: Exchange, offset: number): ClockEvent => ({
  kind: 'anchor',
  shown: meterTimeOf(wall(t1 + there + offset), resolutionMs),
  from: instant(t1),
  to: instant(t1 + there + back),
});

const anchorsOfExchanges = (...events: ClockEvent[]) =>
  anchorsOf({ kind: 'readout', id: 'D1', events, zone: zoneOf('Etc/UTC') }).anchors;

describe(`the offset of a meter's clock from one question and its answer (SEED=${seed})`, () => {
  it('lies around theta by half of delta, and by the resolution above', () => {
    fc.assert(
      fc.property(exchange, offsets, (e, offset) => {
        const event = answer(e, offset);
        const [anchor] = anchorsOfExchanges(event);
        const t4 = e.t1 + e.there + e.back;
        const m = meterTimeOf(wall(e.t1 + e.there + offset), e.resolutionMs).wall;
        const theta = (m - e.t1 + (m - t4)) / 2;
        const delta = t4 - e.t1 - (m - m);
        expect(anchor?.offset).toEqual({ lo: theta - delta / 2, hi: theta + delta / 2 + e.resolutionMs });
        expect((anchor?.offset.hi ?? 0) - (anchor?.offset.lo ?? 0)).toBe(delta + e.resolutionMs);
      }),
      { seed },
    );
  });

  it('contains the true offset', () => {
    fc.assert(
      fc.property(exchange, offsets, (e, offset) => {
        const [anchor] = anchorsOfExchanges(answer(e, offset));
        expect(anchor?.offset.lo).toBeLessThanOrEqual(offset);
        expect(anchor?.offset.hi).toBeGreaterThanOrEqual(offset);
      }),
      { seed },
    );
  });

  it('gets sharper with a second question: the common part, which still contains it', () => {
    fc.assert(
      fc.property(exchange, fc.record({ there: fc.nat(3000), back: fc.nat(3000) }), offsets, (e, again, offset) => {
        const first = answer(e, offset);
        const second = answer({ ...e, ...again, t1: e.t1 + e.there + e.back + 350 }, offset);
        const anchors = anchorsOfExchanges(first, second);
        expect(anchors).toHaveLength(1);
        const [a, b] = [anchorsOfExchanges(first)[0], anchorsOfExchanges(second)[0]];
        expect(anchors[0]?.offset.lo).toBe(Math.max(a?.offset.lo ?? 0, b?.offset.lo ?? 0));
        expect(anchors[0]?.offset.hi).toBe(Math.min(a?.offset.hi ?? 0, b?.offset.hi ?? 0));
        expect(anchors[0]?.offset.lo).toBeLessThanOrEqual(offset);
        expect(anchors[0]?.offset.hi).toBeGreaterThanOrEqual(offset);
      }),
      { seed },
    );
  });
});
