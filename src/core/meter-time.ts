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
const ISO = /^\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}(?::\d{2})?)?$/;
const COMPACT = /^\d{8}(?:\d{4}(?:\d{2})?)?$/;

/** The number that two digits make. */
const two = (text: string, at: number): number => text.charCodeAt(at) * 10 + text.charCodeAt(at + 1) - 528;

function daysIn(year: number, month: number): number {
  if (month !== 2) return month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
  return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
}

/** Reads ISO text whose form is right. Written without dates and patterns: every test of every download passes here. */
function build(text: string): Parsed<MeterTime> {
  const year = two(text, 0) * 100 + two(text, 2);
  const month = two(text, 5);
  const day = two(text, 8);
  const hasTime = text.length > 10;
  const hour = hasTime ? two(text, 11) : 0;
  const minute = hasTime ? two(text, 14) : 0;
  const second = text.length > 16 ? two(text, 17) : 0;
  // Years before 100 are no years of a meter, and Date.UTC takes them for others.
  const isDay = year >= 100 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(year, month);
  if (!isDay || hour > 23 || minute > 59 || second > 59) return bad(`${text} does not exist`);
  const resolutionMs = text.length > 16 ? SECOND : hasTime ? MINUTE : DAY;
  return good({ text, wall: wall(Date.UTC(year, month - 1, day, hour, minute, second)), resolutionMs });
}

/** Reads `YYYY-MM-DDThh:mm:ss`, `YYYY-MM-DDThh:mm` or `YYYY-MM-DD`. Refuses times that do not exist. */
export function parseMeterTime(text: string): Parsed<MeterTime> {
  return ISO.test(text) ? build(text) : bad(`"${text}" is not a meter time`);
}

/** Reads the compact form of E1394, `YYYYMMDD[hhmm[ss]]`; a zone suffix is refused (the profile says there is none). */
export function parseCompactTime(text: string): Parsed<MeterTime> {
  if (!COMPACT.test(text)) return bad(`"${text}" is not a date like 20260302101500`);
  const date = `${text.slice(0, 4)}-${text.slice(4, 6)}-${text.slice(6, 8)}`;
  if (text.length === 8) return build(date);
  const seconds = text.length === 14 ? `:${text.slice(12, 14)}` : '';
  return build(`${date}T${text.slice(8, 10)}:${text.slice(10, 12)}${seconds}`);
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
