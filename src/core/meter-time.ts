/**
 * A meter's own wall clock: a date and time without a zone, at the resolution that the meter shows. It is kept as
 * the text that the meter gave and as a number of milliseconds read as if it were UTC (`wall`), branded so that it
 * is never taken for true time.
 */
import { bad, good, type Parsed } from './fault.ts';

/** Wall-clock milliseconds: the fields of a zoneless time read as if they were UTC. */
export type Wall = number & { readonly __brand: 'Wall' };

/** Marks milliseconds of a zoneless time. */
export const wall = (ms: number): Wall => ms as Wall;

/** A time as a meter shows it. The true wall time lies in [wall, wall + resolutionMs): digits are cut off, not rounded. */
export interface MeterTime {
  /** ISO without zone, exactly as precise as the meter: `YYYY-MM-DDThh:mm[:ss]` or `YYYY-MM-DD`. */
  readonly text: string;
  readonly wall: Wall;
  /** 1,000 (seconds), 60,000 (minutes) or 86,400,000 (days only). */
  readonly resolutionMs: number;
}

const SECOND = 1000;
const MINUTE = 60_000;
const DAY = 86_400_000;
const ISO = /^(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}):(\d{2})(?::(\d{2}))?)?$/;

function build(y: string, mo: string, d: string, h = '00', mi = '00', s = '00', resolutionMs = DAY): Parsed<MeterTime> {
  const time = Date.UTC(Number(y), Number(mo) - 1, Number(d), Number(h), Number(mi), Number(s));
  const date = `${y}-${mo}-${d}`;
  const full = `${date}T${h}:${mi}:${s}`;
  // Rolls over when a field is out of range (30 February, 24:00, second 60): then the text does not come back.
  if (!Number.isFinite(time) || new Date(time).toISOString().slice(0, 19) !== full)
    return bad(`${full} does not exist`);
  const text = resolutionMs === DAY ? date : resolutionMs === MINUTE ? full.slice(0, 16) : full;
  return good({ text, wall: wall(time), resolutionMs });
}

/** Reads `YYYY-MM-DDThh:mm:ss`, `YYYY-MM-DDThh:mm` or `YYYY-MM-DD`. Refuses times that do not exist. */
export function parseMeterTime(text: string): Parsed<MeterTime> {
  const m = ISO.exec(text);
  if (!m) return bad(`"${text}" is not a meter time`);
  const [, y = '', mo = '', d = '', h, mi, s] = m;
  if (h === undefined || mi === undefined) return build(y, mo, d);
  return build(y, mo, d, h, mi, s ?? '00', s === undefined ? MINUTE : SECOND);
}

/** Reads the compact form of E1394, `YYYYMMDD[hhmm[ss]]`; a zone suffix is refused (the profile says there is none). */
export function parseCompactTime(text: string): Parsed<MeterTime> {
  const m = /^(\d{4})(\d{2})(\d{2})(?:(\d{2})(\d{2})(\d{2})?)?$/.exec(text);
  if (!m) return bad(`"${text}" is not a date like 20260302101500`);
  const [, y = '', mo = '', d = '', h, mi, s] = m;
  if (h === undefined || mi === undefined) return build(y, mo, d);
  return build(y, mo, d, h, mi, s ?? '00', s === undefined ? MINUTE : SECOND);
}

/** Wall milliseconds as ISO text without a zone, cut to seconds or minutes. */
export function formatWall(at: Wall, resolutionMs: number = SECOND): string {
  const iso = new Date(at).toISOString();
  return resolutionMs >= DAY ? iso.slice(0, 10) : resolutionMs >= MINUTE ? iso.slice(0, 16) : iso.slice(0, 19);
}

/** The meter time that a clock showing `at` displays at a resolution: digits are cut off. */
export function meterTimeOf(at: Wall, resolutionMs: number): MeterTime {
  const cut = wall(Math.floor(at / resolutionMs) * resolutionMs);
  return { text: formatWall(cut, resolutionMs), wall: cut, resolutionMs };
}
