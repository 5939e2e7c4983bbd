/**
 * One reading as the segments of one observation group: OBR, NTE for what has no field, OBX for each value, and SPM
 * for a control test. Pure.
 */
import type { OutgoingReading } from '../../core/outgoing.ts';
import type { Value } from '../../core/reading.ts';
import { zoneOf } from '../../core/zone.ts';
import { codesOf, shownNumber } from '../analytes.ts';
import { interpretationLetters, remarksOf, targetOf } from '../remarks.ts';
import { type When, whenOf } from '../when.ts';
import { components, hl7Text, hl7Time, segment } from './hl7-text.ts';

/** OBX-11 (table 0085) of what is told: preliminary, final, corrected, or posted as wrong. */
export type ResultStatus = 'P' | 'F' | 'C' | 'W';

/** OBR-25 (table 0123) for each: it has no W, and calls a result that was taken back a corrected one. */
const REPORT_STATUS: Readonly<Record<ResultStatus, string>> = { P: 'P', F: 'F', C: 'C', W: 'C' };

const DAY_MS = 86_400_000;

/** The segments of a reading, without CR. */
export function observationSegments(reading: OutgoingReading, site: string, status: ResultStatus): readonly string[] {
  const zone = zoneOf(reading.zone);
  const when = whenOf(reading.placement);
  // A span goes where the standard has start and end of an observation, rounded outwards.
  const [start, end] =
    when.kind === 'span'
      ? [
          when.earliest === undefined ? '' : hl7Time(when.earliest, zone, 'second', 'floor'),
          when.latest === undefined ? '' : hl7Time(when.latest, zone, 'second', 'ceil'),
        ]
      : [timeOf(when, reading), ''];
  const service = reading.values[0] ? identifierOf(reading.values[0]) : ERROR_TEST;
  const obr = fields('OBR', {
    1: '1',
    3: components(reading.id, site),
    4: service,
    7: start,
    8: end,
    22: hl7Time(reading.downloadedAt, zone),
    25: REPORT_STATUS[status],
  });
  const count = Math.max(1, reading.values.length);
  const observations = Array.from({ length: count }, (_, index) => observationSegment(reading, index, site, status));
  const notes = notesOf(reading).map((note, index) => segment('NTE', String(index + 1), 'L', hl7Text(note)));
  return [obr, ...notes, ...observations, ...(reading.kind === 'control' ? [specimenSegment(reading)] : [])];
}

const ERROR_TEST = components('ERROR', 'Error test', 'L');

function observationSegment(reading: OutgoingReading, index: number, site: string, status: ResultStatus): string {
  const value = reading.values[index];
  const time = timeOf(whenOf(reading.placement), reading);
  const instruments = [components(reading.meter.id, reading.meter.model), components(site, 'tallydock')].join('~');
  return fields('OBX', {
    1: String(index + 1),
    ...(value ? valueFields(value) : { 3: ERROR_TEST }),
    7: rangeOf(targetOf(reading, index)),
    8: interpretationLetters(reading, index).join('~'),
    // What gave no result cannot be obtained; taken back it is posted as wrong like everything else.
    11: value || status === 'W' ? status : 'X',
    14: time,
    16: components(reading.operator),
    18: instruments,
    // From a finger-stick the meter measures at once: one time for both.
    19: time,
  });
}

/** OBX-2, 3, 5 and 6. */
function valueFields(value: Value): Fields {
  const number = shownNumber(value.value);
  const type = number ? (number.beyond ? 'SN' : 'NM') : 'ST';
  const shown = number ? (number.beyond ? `${number.beyond}^${number.digits}` : number.digits) : hl7Text(value.value);
  const { ucum } = codesOf(value);
  return {
    2: shown === '' ? '' : type,
    3: identifierOf(value),
    5: shown,
    6: ucum === undefined ? components('', value.unit) : components(ucum, ucum, 'UCUM'),
  };
}

/** LOINC first where there is one, our short name as local code beside it. */
function identifierOf(value: Value): string {
  const { name, code } = codesOf(value);
  const own = value.analyte === '' ? ['', 'Unnamed analyte', ''] : [value.analyte, name, 'L'];
  return code ? components(code.loinc, code.display ?? name, 'LN', ...own) : components(...own);
}

const rangeOf = (target: { readonly low: string; readonly high: string } | undefined): string =>
  target ? hl7Text(`${target.low}-${target.high}`) : '';

/**
 * OBX-14: a point to the second. Of a span the best estimate, no more precise than it is: to the minute where the
 * bounds lie within a day, else the day. Empty where there is none.
 */
function timeOf(when: When, reading: OutgoingReading): string {
  const zone = zoneOf(reading.zone);
  if (when.kind === 'point') return hl7Time(when.at, zone);
  if (when.kind === 'unknown' || when.at === undefined) return '';
  const { earliest, latest, at } = when;
  const isWithinDay = earliest !== undefined && latest !== undefined && latest - earliest < DAY_MS;
  return hl7Time(at, zone, isWithinDay ? 'minute' : 'day');
}

/** What has no field of its own in 2.5.1. */
function notesOf(reading: OutgoingReading): readonly string[] {
  const { lot, lotExpiry, meterTime } = reading;
  return [
    ...remarksOf(reading),
    ...(meterTime ? [`The meter showed ${meterTime}.`] : []),
    ...(lot ? [`Strip lot ${lot}${lotExpiry ? `, expiry ${lotExpiry}` : ''}`] : []),
  ];
}

/** A control test's specimen: SPM-11 = Q, or E for an electronic check (table 0369). SPM-4 in words: no code of table 0487 fits. */
function specimenSegment(reading: OutgoingReading): string {
  const { control } = reading;
  const isElectronic = control?.kind === 'electronic';
  return fields('SPM', {
    1: '1',
    4: components('', isElectronic ? 'Electronic check' : 'Control material'),
    11: isElectronic ? components('E', 'Electronic QC', 'HL70369') : components('Q', 'Control specimen', 'HL70369'),
    14: control ? hl7Text(`Lot ${control.lot}, level ${control.level}`) : '',
  });
}

/** Fields of a segment by their number in the standard. */
type Fields = Readonly<Record<number, string>>;

function fields(name: string, by: Fields): string {
  const last = Math.max(...Object.keys(by).map(Number));
  return segment(name, ...Array.from({ length: last }, (_, i) => by[i + 1] ?? ''));
}
