/** Times, numbers and names as people here read them. Times stand in the clinic's zone, never in UTC. */
import type { Value } from '../../core/reading.ts';
import type { PersonName } from '../api/live.ts';
import type { Language, Words } from './words.ts';

export interface Format {
  /** `3 March 2026`, in words. */
  day(ms: number): string;
  /** `3 Mar`, without the year where it is this one. */
  shortDay(ms: number): string;
  /** `10:16`. */
  time(ms: number): string;
  /** `3 March 2026, 10:16`; today and yesterday as words. */
  moment(ms: number): string;
  /** A local date `YYYY-MM-DD` in words. */
  date(isoDate: string): string;
  /** `2026-03-03`, for fields. */
  isoDay(ms: number): string;
  /** A decimal as written, with the sign of this language: `3.40` stays `3,40`. */
  decimal(text: string): string;
  number(value: number, digits?: number): string;
  /** `68 %` of 0.68. */
  percent(share: number): string;
  /** `2.6`, `> 8.0`. */
  value(value: number, beyond?: '<' | '>'): string;
  /** `INR 2.6`; all values of a reading. */
  values(values: readonly Value[]): string;
  /** The name, else the id. */
  person(person: PersonName): string;
  /** `1 test`, `3 tests`: the plural forms as the catalogue has them. */
  count(n: number, forms: { readonly one: string; readonly other: string }): string;
}

const LOCALES: Readonly<Record<Language, string>> = { en: 'en-GB', de: 'de-DE' };

/** The formats of a language in a zone. */
export function makeFormat(language: Language, zone: string, words: Words, now: () => number = Date.now): Format {
  const locale = LOCALES[language];
  const dates = (options: Intl.DateTimeFormatOptions, timeZone = zone): Intl.DateTimeFormat =>
    new Intl.DateTimeFormat(locale, { ...options, timeZone });
  const day = dates({ day: 'numeric', month: 'long', year: 'numeric' });
  const dayOfUtc = dates({ day: 'numeric', month: 'long', year: 'numeric' }, 'UTC');
  const short = dates({ day: 'numeric', month: 'short' });
  const shortYear = dates({ day: 'numeric', month: 'short', year: 'numeric' });
  const time = dates({ hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
  const iso = new Intl.DateTimeFormat('sv-SE', { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit' });
  const point = new Intl.NumberFormat(locale).formatToParts(1.5).find((p) => p.type === 'decimal')?.value ?? '.';
  const plural = new Intl.PluralRules(locale);
  const decimal = (text: string): string => text.replace('.', point);
  const isoDay = (ms: number): string => iso.format(ms);
  return {
    day: (ms) => day.format(ms),
    shortDay: (ms) => (isoDay(ms).slice(0, 4) === isoDay(now()).slice(0, 4) ? short : shortYear).format(ms),
    time: (ms) => time.format(ms),
    moment(ms) {
      const on = isoDay(ms);
      const shown =
        on === isoDay(now())
          ? words.shell.today
          : on === isoDay(now() - 86_400_000)
            ? words.shell.yesterday
            : day.format(ms);
      return `${shown}, ${time.format(ms)}`;
    },
    date: (text) => dayOfUtc.format(Date.parse(`${text}T00:00:00Z`)),
    isoDay,
    decimal,
    number: (value, digits = 1) =>
      new Intl.NumberFormat(locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(value),
    percent: (share) => `${new Intl.NumberFormat(locale, { maximumFractionDigits: 0 }).format(share * 100)} %`,
    value: (value, beyond) => `${beyond ? `${beyond} ` : ''}${decimal(value.toFixed(1))}`,
    values: (values) => values.map((v) => `${v.analyte} ${decimal(v.value)}`).join(', '),
    person: ({ id, name }) => name ?? id,
    count: (n, { one, other }) => (plural.select(n) === 'one' ? one : other).replace('#', String(n)),
  };
}
