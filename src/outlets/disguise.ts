/**
 * A reading without anything that leads to a person, for research. After the Safe Harbor list of 45 CFR 164.514(b)(2):
 * no name, no place, no number of a person, device or record (keyed pseudonyms stand in their place), no date but a count of days
 * from the person's own first day, ages over 89 pooled as 90, no operator and no text that somebody typed. Pure.
 */
import { createHmac } from 'node:crypto';
import { type Instant, instant } from '../core/instant.ts';
import type { OutgoingReading } from '../core/outgoing.ts';
import type { Placement } from '../core/placement.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';

const DAY_MS = 86_400_000;
/** Day 0 of everybody stands as this day: days can be counted from it, and it says nothing. */
export const DAY_ZERO = Date.UTC(2000, 0, 1) / DAY_MS;
const OLDEST = 90;

/** What a pseudonym stands for. The same text as person and as meter has two pseudonyms that have nothing in common. */
export type Disguised = 'person' | 'meter' | 'reading' | 'download' | 'lot' | 'site' | 'mark';

const LETTER: Readonly<Record<Disguised, string>> = {
  person: 'P',
  meter: 'M',
  reading: 'R',
  download: 'D',
  lot: 'L',
  site: 'S',
  mark: 'K',
};

/** The pseudonym of a text: the same for ever under one key; without the key nobody finds the way back. */
export function pseudonym(key: string, what: Disguised, text: string): string {
  const hash = createHmac('sha256', key)
    .update(JSON.stringify([what, text]))
    .digest('hex');
  return `${LETTER[what]}-${hash.slice(0, 20)}`;
}

/** The local day of a moment, counted from 1970-01-01. */
export const dayNumberOf = (at: Instant, zone: string): number => Math.floor(zoneOf(zone).wallAt(at) / DAY_MS);

/** What a reading is disguised with. */
export interface Disguise {
  readonly key: string;
  /** The local day, counted from 1970-01-01, that becomes day 0 of this person, or of the meter where there is none. */
  readonly dayZero: number;
}

/** The reading in disguise. Times keep their order and their days, and nothing finer. */
export function disguise(reading: OutgoingReading, { key, dayZero }: Disguise): OutgoingReading {
  const day = (at: Instant, add = 0): Instant =>
    instant((DAY_ZERO + dayNumberOf(at, reading.zone) - dayZero + add) * DAY_MS);
  const { placement, patient } = reading;
  const around = placement?.takenAt ?? reading.downloadedAt;
  return {
    id: pseudonym(key, 'reading', reading.id) as ReadingId,
    version: reading.version,
    status: reading.status,
    holds: reading.holds,
    kind: reading.kind,
    meter: { id: pseudonym(key, 'meter', `${reading.meter.model} ${reading.meter.id}`), model: reading.meter.model },
    ...(patient
      ? {
          patient: {
            id: pseudonym(key, 'person', patient.id),
            ...(patient.birthYear === undefined
              ? {}
              : { birthYear: shiftedBirthYear(patient.birthYear, dayZero, day(around)) }),
          },
        }
      : {}),
    ...(reading.personBasis ? { personBasis: reading.personBasis } : {}),
    values: reading.values.map((v) => ({ ...v, value: /^[<>]?-?\d+(\.\d+)?$/.test(v.value) ? v.value : '' })),
    ...(reading.errorCode && isWord(reading.errorCode) ? { errorCode: reading.errorCode } : {}),
    ...(reading.target ? { target: reading.target } : {}),
    ...(reading.standing ? { standing: reading.standing } : {}),
    ...(placement ? { placement: disguisedPlacement(placement, day) } : {}),
    zone: 'UTC',
    meterTime: '',
    ...(reading.lot === undefined ? {} : { lot: pseudonym(key, 'lot', reading.lot) }),
    flags: reading.flags.filter(isWord),
    firstDownload: pseudonym(key, 'download', reading.firstDownload) as DownloadId,
    downloadedAt: day(reading.downloadedAt),
    ...(reading.control ? { control: { ...reading.control, lot: pseudonym(key, 'lot', reading.control.lot) } } : {}),
  };
}

/** A word of a protocol or of ours; anything else could have been typed. */
const isWord = (text: string): boolean => /^[A-Za-z]{0,2}[ -]?\d{1,4}$|^[a-z][a-z-]{0,30}$/.test(text);

/** The sentence of a placement names dates: it is left out. */
const disguisedPlacement = (p: Placement, day: (at: Instant, add?: number) => Instant): Placement => ({
  ...(p.takenAt === undefined ? {} : { takenAt: day(p.takenAt) }),
  ...(p.earliest === undefined ? {} : { earliest: day(p.earliest) }),
  ...(p.latest === undefined ? {} : { latest: day(p.latest, 1) }),
  basis: p.basis,
  reason: '',
  flags: p.flags.filter(isWord),
});

/** A birth year that gives the right age on the shifted days, but never one over 90. */
function shiftedBirthYear(birthYear: number, dayZero: number, shifted: Instant): number {
  const yearOf = (dayNo: number): number => new Date(dayNo * DAY_MS).getUTCFullYear();
  const year = yearOf(DAY_ZERO) - (yearOf(dayZero) - birthYear);
  return Math.max(year, yearOf(shifted / DAY_MS) - OLDEST);
}
