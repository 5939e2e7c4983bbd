/**
 * What a meter tells of one test, and what the store keeps of it. A test record is one sighting in one download; a
 * reading is the test itself, seen perhaps in many downloads.
 */
import type { MeterTime } from './meter-time.ts';

/** Stable for ever: download id, a hyphen, and the place in that download where the test was first seen (`D17-3`). */
export type ReadingId = string & { readonly __brand: 'ReadingId' };
/** `D` and the number of the capture, with `.2`, `.3` for a second or third meter in one capture (`D17`, `D17.2`). */
export type DownloadId = string & { readonly __brand: 'DownloadId' };

/** A reading's id from where it was first seen. */
export const readingId = (download: DownloadId, place: string): ReadingId => `${download}-${place}` as ReadingId;
/** The download that a reading's id names. */
export const downloadOf = (reading: ReadingId): DownloadId => reading.slice(0, reading.indexOf('-')) as DownloadId;
/** A download's id from its capture's number in the store and its ordinal among the meters in that capture (from 0). */
export const downloadId = (capture: number, ordinal: number): DownloadId =>
  `D${capture}${ordinal > 0 ? `.${ordinal + 1}` : ''}` as DownloadId;

export type ReadingKind = 'patient' | 'control' | 'error';

/** One measured quantity of a test: the text exactly as the meter gave it. */
export interface Value {
  /** The trade's short name: INR, PT, APTT, GLU, KET, HBA1C, HGB, CHOL, LAC, CRP; another name as the meter gave it. */
  readonly analyte: string;
  /** As shown, a decimal perhaps with `<` or `>` in front; trailing zeros kept. Not a number: the text, and the flag `value-unreadable`. */
  readonly value: string;
  /** UCUM where the profile knows the meter's unit, else the meter's own text; empty if none was given. */
  readonly unit: string;
}

/** One test as one download tells it. */
export interface TestRecord {
  /** Where in the download: the slot, an ordinal where slots are missing or not unique, or `n1`, `n2` … for results sent unasked. Unique within a download. */
  readonly place: string;
  /** Memory slot as told, from 1. */
  readonly slot?: number;
  /** Running number over the meter's life, where the meter has one. */
  readonly runNumber?: number;
  /** The meter's own stamp as text, exactly as given (ISO form for E1394 dates); empty where the clock was not set. */
  readonly meterTimeText: string;
  /** The stamp read as a time; absent where the clock was not set or the time does not exist (flag `time-unreadable`). */
  readonly meterTime?: MeterTime;
  readonly kind: ReadingKind;
  /** 1 to 4 values; none for an error test. */
  readonly values: readonly Value[];
  /** The meter's error code, for an error test. */
  readonly errorCode?: string;
  readonly lot?: string;
  /** Expiry of the strip lot: `YYYY-MM-DD` or `YYYY-MM`. */
  readonly lotExpiry?: string;
  readonly operator?: string;
  /** Patient identifier as keyed into the meter. */
  readonly patientId?: string;
  /** The meter's flags (`lo`, `hi`, `rng`, `hct`, `tmp`, `exp`; E1394 ones as given) and the gateway's. */
  readonly flags: readonly string[];
  /** How often the meter's clock had lost power when the test was made, where the meter counts. */
  readonly lossCount?: number;
  /** Keys or fields that this program does not know, kept as given. */
  readonly extra?: Readonly<Record<string, string>>;
  /** True where the transfer broke off right behind it, so that more values or the lot may belong to it. */
  readonly open?: boolean;
}
