/** Deliveries as rows of COPY's text format, for the two tables. Pure. Format: PostgreSQL 15 manual, "COPY", Text Format. */
import type { Instant } from '../../core/instant.ts';
import type { Delivery } from '../outlet.ts';

const NULL = '\\N';

const ESCAPES: Readonly<Record<string, string>> = { '\\': '\\\\', '\t': '\\t', '\n': '\\n', '\r': '\\r' };

/** A text cell. Nothing is left out: what the database cannot hold, it refuses, and then somebody is told. */
const text = (value: string | undefined): string =>
  value === undefined ? NULL : /[\\\t\n\r]/.test(value) ? value.replace(/[\\\t\n\r]/g, (c) => ESCAPES[c] ?? c) : value;

const number = (value: number | undefined): string => (value === undefined ? NULL : String(value));
const moment = (at: Instant | undefined): string => (at === undefined ? NULL : new Date(at).toISOString());
const DECIMAL = /^[+-]?\d+(?:\.\d+)?$/;
const decimal = (value: string | undefined): string => (value !== undefined && DECIMAL.test(value) ? value : NULL);

/** An array literal of texts. */
const list = (values: readonly string[]): string =>
  text(`{${values.map((v) => `"${v.replace(/[\\"]/g, '\\$&')}"`).join(',')}}`);

/** The row of a version, in the order of VERSION_COLUMNS, with its line end. */
export function versionRow({ reading: r, seq, isWithdrawn }: Delivery): string {
  const { placement: p } = r;
  return `${[
    text(r.id),
    r.version,
    isWithdrawn ? 't' : 'f',
    r.status,
    r.kind,
    text(r.meter.id),
    text(r.meter.model),
    text(r.meter.firmware),
    text(r.patient?.id),
    number(r.patient?.birthYear),
    r.personBasis ?? NULL,
    decimal(r.target?.low),
    decimal(r.target?.high),
    r.standing ?? NULL,
    text(r.errorCode),
    moment(p?.takenAt),
    moment(p?.earliest),
    moment(p?.latest),
    p?.basis ?? NULL,
    text(p?.reason),
    text(r.zone),
    r.meterTime === '' ? NULL : text(r.meterTime),
    number(r.clock?.meterOffS),
    text(r.lot),
    text(r.lotExpiry),
    text(r.operator),
    list(r.flags),
    number(r.slot),
    number(r.runNumber),
    text(r.control?.lot),
    text(r.control?.level),
    r.control?.kind ?? NULL,
    text(r.firstDownload),
    moment(r.downloadedAt),
    seq,
  ].join('\t')}\n`;
}

/** The rows of the values, in the order of VALUE_COLUMNS, with their line ends. */
export const valueRows = ({ reading: { id, version, values } }: Delivery): string =>
  values
    .map((v, n) => {
      const [, beyond, digits] = /^([<>]?)(.*)$/s.exec(v.value) ?? [];
      return `${[
        text(id),
        version,
        n,
        text(v.analyte),
        text(v.value),
        decimal(digits),
        beyond && DECIMAL.test(digits ?? '') ? beyond : NULL,
        text(v.unit),
      ].join('\t')}\n`;
    })
    .join('');
