/** The work of `lots`, `controls`, `lab` and `appointments`. */
import { Fault } from '../core/fault.ts';
import { formatSeconds, instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import { patientOf } from '../record/context.ts';
import { nameControl } from '../record/deciding.ts';
import { importAppointments } from '../record/imports/appointments.ts';
import { importLabValues } from '../record/imports/lab-values.ts';
import { putControl, putLabValue, putLot } from '../record/registers.ts';
import type { CommonOptions } from './common-options.ts';
import { type ImportCall, importFile } from './import-work.ts';
import { momentOption, rangeOption, wholeOption } from './option-values.ts';
import { note, print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';
import { withStore } from './with-store.ts';

/** A decimal as it is kept, however it was typed. */
const withPoint = (decimal: string): string => decimal.replace(',', '.');

/** Prints rows as NDJSON or as a table, or says that there are none. */
async function list(
  options: CommonOptions,
  json: readonly Record<string, unknown>[],
  heads: readonly string[],
  rows: readonly (readonly string[])[],
  none: string,
): Promise<void> {
  if (options.json) for (const row of json) await printJson(row);
  else await print(rows.length === 0 ? `${none}\n` : makeTable(heads).rows(rows));
}

/** Lists the strip lots. */
export function listLots(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store }) => {
    const lots = store.lots.list();
    await list(
      options,
      lots.map((l) => ({
        lot: l.lot,
        expiry: l.expiry ?? null,
        code: l.code ?? null,
        isi: l.isi ?? null,
        mnpt: l.mnpt ?? null,
      })),
      ['lot', 'good until', 'code', '>ISI', '>mean normal PT, s'],
      lots.map((l) => [l.lot, l.expiry ?? '', l.code ?? '', l.isi ?? '', l.mnpt ?? '']),
      'No strip lot is entered.',
    );
  });
}

/** Enters a strip lot; what is not given stays as it was known. Throws NOT_POSSIBLE. */
export function addLot(
  lot: string,
  options: RecordOptions & { expiry?: string; code?: string; isi?: string; mnpt?: string },
): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    const { expiry, code, isi, mnpt } = options;
    putLot(store, context, {
      ...store.lots.find(lot),
      lot,
      ...(expiry === undefined ? {} : { expiry }),
      ...(code === undefined ? {} : { code }),
      ...(isi === undefined ? {} : { isi: withPoint(isi) }),
      ...(mnpt === undefined ? {} : { mnpt: withPoint(mnpt) }),
    });
    if (options.json) await printJson({ ...store.lots.find(lot) });
    else if (!options.quiet) note(`Strip lot ${lot} is entered.`);
  });
}

/** Lists the control materials. */
export function listControls(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store }) => {
    const levels = store.controls.list();
    await list(
      options,
      levels.map((l) => ({
        number: l.levelNo,
        lot: l.lot,
        level: l.level,
        analyte: l.analyte,
        kind: l.kind,
        mean: l.mean ?? null,
        sd: l.sd ?? null,
        low: l.low ?? null,
        high: l.high ?? null,
        range_sd: l.rangeSd,
        expiry: l.expiry ?? null,
      })),
      ['>number', 'lot', 'level', 'analyte', 'kind', 'limits', 'good until'],
      levels.map((l) => [
        String(l.levelNo),
        l.lot,
        l.level,
        l.analyte,
        l.kind,
        l.mean === undefined ? `${l.low} to ${l.high} (${l.rangeSd} SD)` : `${l.mean}, SD ${l.sd}`,
        l.expiry ?? '',
      ]),
      'No control material is entered.',
    );
  });
}

/** Enters a control level. Throws NOT_POSSIBLE or CALL_WRONG. */
export function addControl(
  lot: string,
  level: string,
  options: RecordOptions & {
    analyte: string;
    mean?: string;
    sd?: string;
    range?: string;
    rangeSd: string;
    electronic?: boolean;
    expiry?: string;
  },
): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    const { mean, sd, range, expiry } = options;
    const levelNo = putControl(store, context, {
      lot,
      level,
      analyte: options.analyte.toUpperCase(),
      kind: options.electronic ? 'electronic' : 'liquid',
      ...(mean === undefined ? {} : { mean: withPoint(mean) }),
      ...(sd === undefined ? {} : { sd: withPoint(sd) }),
      ...(range === undefined ? {} : rangeOption('--range', range)),
      rangeSd: wholeOption('--range-sd', options.rangeSd, 2, 3) ?? 2,
      ...(expiry === undefined ? {} : { expiry }),
    });
    if (options.json) await printJson({ number: levelNo, lot, level });
    else if (!options.quiet) note(`Control ${lot}, level ${level}, is entered as number ${levelNo}.`);
  });
}

/** Says which control a test was made with. Throws READING_UNKNOWN or NOT_POSSIBLE. */
export function nameControlTest(id: string, level: string, options: RecordOptions): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    const levelNo = wholeOption('NUMBER', level, 1, Number.MAX_SAFE_INTEGER) ?? 0;
    nameControl(store, context, id as ReadingId, levelNo);
    if (options.json) await printJson({ reading_id: id, number: levelNo });
    else if (!options.quiet) note(`${id} was made with control number ${levelNo}.`);
  });
}

/** Lists values of the laboratory. Throws PATIENT_UNKNOWN. */
export function listLab(options: CommonOptions & { readonly patient?: string }): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const only = options.patient === undefined ? undefined : patientOf(store, options.patient).patientNo;
    const values = store.labValues.list(only);
    const idOf = (no: number): string => store.patients.byNumber(no)?.id ?? '';
    await list(
      options,
      values.map((v) => ({
        patient_id: idOf(v.patientNo),
        at: formatSeconds(v.at, 'round'),
        analyte: v.analyte,
        value: v.value,
        laboratory: v.laboratory,
      })),
      ['person', `sample taken (${zone})`, 'value', 'laboratory'],
      values.map((v) => [idOf(v.patientNo), localMinute(v.at, zone), `${v.analyte} ${v.value}`, v.laboratory]),
      'No value of the laboratory is entered.',
    );
  });
}

/** Enters a value of the laboratory. Throws PATIENT_UNKNOWN, NOT_POSSIBLE or CALL_WRONG. */
export function addLab(
  id: string,
  value: string,
  options: RecordOptions & { readonly at: string; readonly analyte: string; readonly laboratory: string },
): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const { patientNo } = patientOf(store, id);
    const at = momentOption('--at', options.at, zone) ?? context.now;
    const analyte = options.analyte.toUpperCase();
    const measured = { patientNo, at, analyte, value: withPoint(value), laboratory: options.laboratory };
    const fate = putLabValue(store, context, measured);
    if (options.json)
      await printJson({ patient_id: id, at: formatSeconds(at, 'round'), analyte, value: measured.value, fate });
    else if (!options.quiet) note(`${analyte} ${value} of ${id} from ${localMinute(at, zone)}: ${fate}.`);
  });
}

/** Imports values of the laboratory from a table. */
export const importLab = (file: string, options: ImportCall): Promise<void> =>
  importFile(file, options, importLabValues);

/** Imports appointments from a table. */
export const importDay = (file: string, options: ImportCall): Promise<void> =>
  importFile(file, options, importAppointments);

/** Lists the appointments of a day. Throws CALL_WRONG. */
export function listAppointments(options: CommonOptions & { readonly day?: string }): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const day = options.day ?? localMinute(instant(Date.now()), zone).slice(0, 10);
    const from = momentOption('--day', day, zone);
    const to = momentOption('--day', day, zone, 'end');
    if (from === undefined || to === undefined || day.length !== 10)
      throw new Fault('CALL_WRONG', `--day: "${day}" is not a day`, 'Write it as 2026-03-02');
    const found = store.appointments.between(from, to);
    const idOf = (no: number): string => store.patients.byNumber(no)?.id ?? '';
    await list(
      options,
      found.map((a) => ({ at: formatSeconds(a.at, 'round'), patient_id: idOf(a.patientNo) })),
      [`time (${zone})`, 'person'],
      found.map((a) => [localMinute(a.at, zone), idOf(a.patientNo)]),
      `No appointments on ${day}.`,
    );
  });
}
