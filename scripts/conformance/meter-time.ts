/** Times as meters write them, read strictly: a day or an hour that does not exist is none. */

export interface ReadTime {
  /** As if it were UTC, milliseconds since 1970: for differences only. */
  readonly ms: number;
  readonly hasSeconds: boolean;
}

/** Reads `YYYY-MM-DDThh:mm[:ss]`; undefined for anything else. */
export function readTime(text: string): ReadTime | undefined {
  const found = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d)(?::(\d\d))?$/.exec(text);
  if (!found) return undefined;
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0] = found.slice(1).map((n) => Number(n ?? 0));
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day); // Date.UTC takes the years 0 to 99 for 1900 to 1999
  date.setUTCHours(hour, minute, second);
  const exists =
    date.getUTCMonth() === month - 1 && date.getUTCDate() === day && hour < 24 && minute < 60 && second < 60;
  return exists ? { ms: date.getTime(), hasSeconds: found[6] !== undefined } : undefined;
}

/** Reads `YYYYMMDD[hhmm[ss]]`; a day without an hour is its midnight. */
export function readCompactTime(text: string): ReadTime | undefined {
  const found = /^(\d{4})(\d\d)(\d\d)(?:(\d\d)(\d\d)(\d\d)?)?$/.exec(text);
  if (!found) return undefined;
  const [, year, month, day, hour = '00', minute = '00', second] = found;
  return readTime(`${year}-${month}-${day}T${hour}:${minute}${second === undefined ? '' : `:${second}`}`);
}

/** Writes a time with seconds, as SET wants it. */
export const writeTime = (ms: number): string => new Date(ms).toISOString().slice(0, 19);
