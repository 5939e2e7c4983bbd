/**
 * Turns the downloads of a history into anchors and the history into gaps between them. An anchor is a moment at which
 * the offset of the meter's clock (wall time minus true time, ms) is known within an interval. A setting by the gateway
 * ends one chain of epochs and starts the next with a known offset.
 */
import type { ClockEvent } from '../core/download.ts';
import type { Zone } from '../core/zone.ts';
import { USE_BEFORE_FIRST_DOWNLOAD_MS } from './costs.ts';
import type { ClockHistory, ClockReadout, ClockTest } from './history.ts';

/** A closed interval of milliseconds. */
export interface Span {
  readonly lo: number;
  readonly hi: number;
}

/** The common part of two spans; empty where lo > hi. */
export const meet = (a: Span, b: Span): Span => ({ lo: Math.max(a.lo, b.lo), hi: Math.min(a.hi, b.hi) });
/** A span with `by` added on both sides. */
export const widen = (a: Span, by: number): Span => ({ lo: a.lo - by, hi: a.hi + by });
/** The middle of a span. */
export const middle = (a: Span): number => (a.lo + a.hi) / 2;

export interface Anchor {
  /** Id of the download. */
  readonly readout: string;
  /** True time of the moment. */
  readonly at: Span;
  /** What the clock showed, ms of wall time, and its resolution. */
  readonly wall: number;
  readonly resolutionMs: number;
  /** Offset of the clock: wall minus true time. */
  readonly offset: Span;
  /** What the clock may have shown instead from here on: the gateway tried to set it and got no answer. */
  readonly alternative?: Pick<Anchor, 'at' | 'wall' | 'resolutionMs' | 'offset'>;
  readonly zone: Zone;
  readonly lossCount?: number;
  readonly resetStamp?: number;
  /** True where the gateway set the clock right before: nothing links this anchor with what came earlier but order. */
  readonly afterSetting: boolean;
}

/** The tests between two anchors that follow each other. The first gap of a meter has no `first`, a trailing one no `last`. */
export interface Gap {
  readonly first?: Anchor;
  readonly last?: Anchor;
  readonly tests: readonly ClockTest[];
  /** For each test: it was made after this (a download without an anchor may stand in the gap). */
  readonly notBefore: readonly number[];
  /** For each test: the clock was seen unset between the test before (or the first anchor) and this one. */
  readonly clockSeenUnset: readonly boolean[];
  /** The same between the last test and `last`. */
  readonly unsetBeforeLast: boolean;
  /** Zone of the dock at its end; where no download ends it, of that at its beginning, else that of the history. */
  readonly zone: Zone;
  /** Zones of the docks at both ends, each once. */
  readonly zones: readonly Zone[];
}

type Showing = Extract<ClockEvent, { kind: 'anchor' }>;

const offsetOf = (e: Showing): Span => ({ lo: e.shown.wall - e.to, hi: e.shown.wall + e.shown.resolutionMs - e.from });

type Setting = Extract<ClockEvent, { kind: 'set' }>;

/**
 * What a clock shows that took over the time asked, at some moment in between. Whether the count of what it does not
 * show starts again is its own affair: a clock that keeps no seconds may have cut them off.
 */
function settingOf(e: Setting, resolutionMs: number): Pick<Anchor, 'at' | 'wall' | 'resolutionMs' | 'offset'> {
  const wall = Math.floor(e.asked / resolutionMs) * resolutionMs;
  const offset = { lo: wall - e.to, hi: e.asked + 1000 - e.from };
  return { at: { lo: e.from, hi: e.to }, wall, resolutionMs, offset };
}

/** The anchors of one download, in order. Showings that agree are one anchor with the common offset. */
export function anchorsOf(r: ClockReadout): { anchors: Anchor[]; unset: boolean } {
  const resolution = Math.max(1000, ...r.events.map((e) => (e.kind === 'anchor' ? e.shown.resolutionMs : 0)));
  const anchors: Anchor[] = [];
  let unset = false;
  let afterSetting = false;
  const add = (wall: number, resolutionMs: number, at: Span, offset: Span): void => {
    const open = anchors.at(-1);
    if (open && !afterSetting) {
      const common = meet(open.offset, offset);
      if (common.lo <= common.hi) {
        anchors[anchors.length - 1] = { ...open, offset: common };
        return;
      }
    }
    anchors.push({
      readout: r.id,
      at,
      wall,
      resolutionMs,
      offset,
      zone: r.zone,
      afterSetting,
      ...(r.lossCount === undefined ? {} : { lossCount: r.lossCount }),
      ...(r.resetStamp === undefined ? {} : { resetStamp: r.resetStamp }),
    });
    afterSetting = false;
  };
  for (const e of r.events) {
    if (e.kind === 'anchor') add(e.shown.wall, e.shown.resolutionMs, { lo: e.from, hi: e.to }, offsetOf(e));
    else if (e.kind === 'unset') unset ||= anchors.length === 0;
    else if (e.outcome === 'confirmed') {
      afterSetting = true;
      const set = settingOf(e, resolution);
      add(set.wall, set.resolutionMs, set.at, set.offset);
    } else if (e.outcome === 'unknown') {
      const open = anchors.at(-1);
      const alternative = settingOf(e, resolution);
      if (open) anchors[anchors.length - 1] = { ...open, alternative };
    }
  }
  return { anchors, unset };
}

/**
 * Cuts a history into gaps. A download whose place among the tests is uncertain (some of the tests that follow may
 * have been made before it) gives no anchor: only what is certain is used.
 */
export function gapsOf(history: ClockHistory): Gap[] {
  const gaps: Gap[] = [];
  const earliest = history.items.find((i) => i.kind === 'readout')?.events[0]?.from;
  const since =
    history.inUseSince ?? (earliest === undefined ? Number.NEGATIVE_INFINITY : earliest - USE_BEFORE_FIRST_DOWNLOAD_MS);
  let first: Anchor | undefined;
  let tests: ClockTest[] = [];
  let notBefore: number[] = [];
  let seenUnset: boolean[] = [];
  let floor = since;
  let unsetNow = false;
  const close = (last: Anchor | undefined): void => {
    if (tests.length > 0 || (first && last)) {
      const zone = last?.zone ?? first?.zone ?? history.zone;
      gaps.push({
        ...(first ? { first } : {}),
        ...(last ? { last } : {}),
        tests,
        notBefore,
        clockSeenUnset: seenUnset,
        unsetBeforeLast: unsetNow,
        zone,
        zones: first && first.zone !== zone ? [first.zone, zone] : [zone],
      });
    }
    first = last;
    tests = [];
    notBefore = [];
    seenUnset = [];
    unsetNow = false;
  };
  const lastTest = history.items.findLastIndex((x) => x.kind === 'test');
  history.items.forEach((item, i) => {
    if (item.kind === 'test') {
      tests.push(item);
      notBefore.push(floor);
      seenUnset.push(unsetNow);
      unsetNow = false;
      return;
    }
    if (item.mayPrecede !== 0 && i < lastTest) return;
    const { anchors, unset } = anchorsOf(item);
    if (unset) unsetNow = true;
    for (const a of anchors) {
      if (a.afterSetting) {
        close(undefined);
        first = a;
      } else close(a);
    }
    const from = item.events[0]?.from;
    if (from !== undefined) floor = from;
  });
  close(undefined);
  return gaps;
}
