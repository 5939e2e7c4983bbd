/**
 * Worlds for the clock room: lives of one meter of 400 days with a visit every 3 to 10 weeks, made at the level of
 * what the clock room is given, with the truth kept beside. Written from the design of the worlds only; it knows
 * nothing of stories, costs or bounds.
 */

import type { ClockHistory, ClockReadout, ClockTest } from '../../src/clock/history.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import type { Placement } from '../../src/core/placement.ts';
import { type Zone, zoneOf } from '../../src/core/zone.ts';
import { numbersFrom } from '../support/numbers.ts';

export type WorldKind = 'drift' | 'loss' | 'human' | 'mixed';

export interface World {
  readonly history: ClockHistory;
  /** True time of each test by id. */
  readonly truth: ReadonlyMap<string, Instant>;
  readonly resolutionMs: number;
}

/** Numbers in [0, 1); neighbouring seeds are spread far apart. */
export const random = (seed: number): (() => number) => numbersFrom(seed * 2654435761);

const DAY = 86_400_000;
const HOUR = 3_600_000;
const MINUTE = 60_000;
const ZONES = [
  'Europe/Lisbon',
  'America/St_Johns',
  'Pacific/Auckland',
  'Asia/Kolkata',
  'America/New_York',
  'Australia/Adelaide',
  'America/Sao_Paulo',
];

/** A clock: shows base + (t - since) * (1 + rate), with a rate that changes slowly. */
class TrueClock {
  private base: number;
  private since: number;
  private readonly rate: (t: number) => number;
  constructor(base: number, since: number, rate: (t: number) => number) {
    this.base = base;
    this.since = since;
    this.rate = rate;
  }
  read(t: number): number {
    // The rate is taken piecewise: advance in steps of at most 5 days.
    while (t - this.since > 5 * DAY) {
      this.base += 5 * DAY * (1 + this.rate(this.since));
      this.since += 5 * DAY;
    }
    return this.base + (t - this.since) * (1 + this.rate(this.since));
  }
  set(shown: number, t: number): void {
    this.base = shown;
    this.since = t;
  }
}

function slipped(local: number, r: () => number): number {
  const d = new Date(local);
  const u = r();
  if (u < 0.4) return local + (r() < 0.5 ? HOUR : -HOUR);
  if (u < 0.65) return local + (r() < 0.5 ? 12 * HOUR : -12 * HOUR);
  const day = d.getUTCDate();
  if (u < 0.85 && day <= 12) return Date.UTC(d.getUTCFullYear(), day - 1, d.getUTCMonth() + 1) + (local % DAY);
  const leapDay = d.getUTCMonth() === 1 && day === 29;
  return Date.UTC(d.getUTCFullYear() + (r() < 0.5 ? 1 : -1), d.getUTCMonth(), leapDay ? 28 : day) + (local % DAY);
}

/** One life. The same seed and kind give the same world. */
export function makeWorld(kind: WorldKind, seed: number): World {
  const r = random(seed * 7 + kind.length * 1_000_003);
  const zone: Zone = zoneOf(ZONES[Math.floor(r() * ZONES.length)] ?? 'Europe/Lisbon');
  const resolutionMs = r() < 0.5 ? 1000 : MINUTE;
  const counts = r() < 0.4;
  const gatewaySets = r() < 0.4;
  const tellsReset = r() < 0.3;
  const astm = r() < 0.4;
  const resetStamp = Date.UTC([2000, 2010, 2020][Math.floor(r() * 3)] ?? 2000, 0, 1);
  const start = Date.UTC(2025, 0, 6) + r() * 20 * DAY;
  const end = start + 400 * DAY;
  const mean = (r() * 2 - 1) * 60e-6;
  const swing = r() * 15e-6;
  const phase = r() * 7;
  const rate = (t: number): number => mean + swing * Math.sin((2 * Math.PI * t) / (365 * DAY) + phase);
  const clock = new TrueClock(start + zone.offsetAt(instant(start)) + (r() * 2 - 1) * 2 * MINUTE, start, rate);
  let losses = 0;

  type Event = { at: number; isVisit?: boolean; run: () => void };
  const events: Event[] = [];
  const items: (ClockTest | ClockReadout)[] = [];
  const truth = new Map<string, Instant>();
  let pending: { id: string; at: number; wall: number; loss: number }[] = [];
  let lastZoneOffset = zone.offsetAt(instant(start));
  let n = 0;

  for (let t = start + r() * 5 * DAY; t < end; t += (r() < 0.1 ? 0.3 : 3 + 6 * r()) * DAY) {
    events.push({
      at: t,
      run: () => {
        const id = `t${n++}`;
        pending.push({ id, at: t, wall: clock.read(t), loss: losses });
        truth.set(id, instant(t));
      },
    });
  }
  const local = (t: number): number => t + zone.offsetAt(instant(t));
  const handSet = (t: number, mayslip: boolean): void => {
    const right = local(t) + (r() * 2 - 1) * 3 * MINUTE;
    clock.set(mayslip && r() < 0.2 ? slipped(right, r) : right, t);
  };
  if (kind !== 'drift') {
    for (let t = start + r() * 150 * DAY; t < end; t += (20 + 160 * r()) * DAY) {
      const off = r() < 0.6 ? r() * 5 * MINUTE : r() * 5 * DAY;
      events.push({
        at: t + off,
        run: () => {
          losses++;
          clock.set(resetStamp, t + off);
        },
      });
      if (kind !== 'loss') {
        const delay = r() < 0.6 ? 3 * MINUTE : r() < 0.75 ? r() * 10 * DAY : 90 * DAY;
        const set = t + off + delay;
        events.push({ at: set, run: () => handSet(set, true) });
        if (r() < 0.3) {
          const again = set + r() * 30 * DAY;
          events.push({ at: again, run: () => handSet(again, false) });
        }
      }
    }
    if (kind !== 'loss' && r() < 0.5) {
      // Somebody who follows summer time, some days late.
      for (let t = start; t < end; t += DAY) {
        const o = zone.offsetAt(instant(t));
        if (o !== lastZoneOffset) {
          const by = o - lastZoneOffset;
          lastZoneOffset = o;
          const at = t + r() * 5 * DAY;
          const follow = (): void => {
            // Only a clock that was right until now is moved by the hour.
            if (Math.abs(clock.read(at) + by - local(at)) < 15 * MINUTE) clock.set(clock.read(at) + by, at);
          };
          events.push({ at, run: follow });
        }
      }
    }
  }
  let visit = 0;
  const visits: number[] = [];
  for (let t = start + r() * 14 * DAY; t < end; t += (21 + 49 * r()) * DAY) visits.push(t);
  visits.push(end);
  for (const t of visits) {
    events.push({
      at: t,
      isVisit: true,
      run: () => {
        const cut = kind === 'mixed' && r() < 0.2;
        if (kind === 'mixed') pending = pending.filter(() => r() > 0.03);
        const told = cut ? pending.slice(0, Math.floor(pending.length * r())) : pending;
        const asked = Math.round(t);
        const answered = asked + 100 + Math.floor(r() * 60);
        const shown = clock.read(asked + 60);
        const until = instant(answered + 5000);
        for (const p of told) {
          items.push({
            kind: 'test',
            id: p.id,
            stamp: meterTimeOf(wall(Math.floor(p.wall)), resolutionMs),
            unset: false,
            ...(counts ? { lossCount: p.loss } : {}),
            toldBy: until,
          });
        }
        const mayPrecede = pending.length - told.length;
        const clockEvents: ClockEvent[] = [
          {
            kind: 'anchor',
            shown: meterTimeOf(wall(Math.floor(shown)), 1000),
            from: instant(astm ? asked - 4000 : asked),
            to: instant(answered),
          },
        ];
        const off = Math.abs(shown - local(asked));
        if (gatewaySets && !cut && !astm && off > MINUTE) {
          const set = Math.floor(local(answered + 4000) / 1000) * 1000;
          clock.set(set, answered + 4050);
          clockEvents.push({
            kind: 'set',
            asked: wall(set),
            from: instant(answered + 4000),
            to: instant(answered + 4100),
            outcome: 'confirmed',
          });
        }
        items.push({
          kind: 'readout',
          id: `D${++visit}`,
          events: clockEvents,
          zone,
          mayPrecede,
          ...(counts ? { lossCount: losses } : {}),
          ...(tellsReset ? { resetStamp: wall(resetStamp) } : {}),
        });
        pending = pending.slice(told.length);
      },
    });
  }
  events.sort((a, b) => a.at - b.at);
  let busyUntil = 0;
  for (const e of events) {
    // Nobody tests with a meter, or takes its batteries out, while it is being read.
    if (e.at < busyUntil) continue;
    if (e.isVisit) busyUntil = e.at + MINUTE;
    e.run();
  }
  return {
    history: { items, habits: { driftPpm: 100, resets: 'new-year' }, zone },
    truth,
    resolutionMs,
  };
}

/** How well placements met the truth, over many worlds. */
export interface Score {
  tests: number;
  /** True time within the bounds. */
  inside: number;
  /** The same, or outside by less than 5 minutes. */
  nearly: number;
  /** A bound is missing. */
  open: number;
  /** Estimates outside their own bounds. */
  astray: number;
  /** How far estimates were off, ms, by basis and the resolution of the stamps (`interpolated, to the minute`). */
  readonly errors: Map<string, number[]>;
  /** Latest minus earliest, ms. */
  readonly widths: number[];
  /** Tests whose true time lies outside the bounds, with how far (s). */
  readonly misses: string[];
}

/** An empty score. */
export const noScore = (): Score => ({
  tests: 0,
  inside: 0,
  nearly: 0,
  open: 0,
  astray: 0,
  errors: new Map(),
  widths: [],
  misses: [],
});

/** Adds the placements of one world, which goes by `name`, to a score. */
export function addScore(
  score: Score,
  name: string,
  world: World,
  placed: readonly { readonly id: string; readonly placement: Placement }[],
): void {
  for (const { id, placement } of placed) {
    const truth = world.truth.get(id);
    if (truth === undefined) throw new Error(`${name} never had a test ${id}`);
    const { takenAt, earliest = Number.NEGATIVE_INFINITY, latest = Number.POSITIVE_INFINITY, basis } = placement;
    const off = Math.max(0, earliest - truth, truth - latest);
    score.tests++;
    if (off === 0) score.inside++;
    else score.misses.push(`${name} ${id}: ${Math.round(off / 1000)} s`);
    if (off < 5 * MINUTE) score.nearly++;
    if (Number.isFinite(latest - earliest)) score.widths.push(latest - earliest);
    else score.open++;
    if (takenAt === undefined) continue;
    if (takenAt < earliest || takenAt > latest) score.astray++;
    const group = `${basis}, to the ${world.resolutionMs === MINUTE ? 'minute' : 'second'}`;
    const errors = score.errors.get(group) ?? [];
    score.errors.set(group, errors);
    errors.push(Math.abs(takenAt - truth));
  }
}

/** The value below which this share of the figures lies. */
export function quantile(figures: readonly number[], share: number): number {
  const sorted = [...figures].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}
