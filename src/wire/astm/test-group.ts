/**
 * From E1394 records to tests, as a meter profile says where each fact stands. One O record with its R, M and C records
 * is one test; the P record above it names the patient. Nothing is guessed: what cannot be read stays as text with a
 * flag. The rules that E1394 leaves open (error tests, flags) are explained in protocols/astm/README.md.
 */
import type { MeterIdentity } from '../../core/download.ts';
import { type MeterTime, parseCompactTime } from '../../core/meter-time.ts';
import type { TestRecord, Value } from '../../core/reading.ts';
import type { MeterProfile } from '../profile.ts';
import { type FieldPath, isAsked, type ProfilePaths, pathsOf, textAt } from './field-paths.ts';
import type { RecordView } from './record-view.ts';

/** The records of one test: the header and patient above it, the order, and what follows up to the next order. */
export interface TestGroup {
  readonly header: RecordView;
  readonly patient: RecordView | undefined;
  readonly order: RecordView;
  readonly parts: readonly RecordView[];
}

/** A test in the making; finished by the decoder, which may still change its place and flags. */
export type TestDraft = { -readonly [K in keyof TestRecord]: TestRecord[K] } & { flags: string[] };

const DECIMAL = /^[<>]?-?(?:\d+(?:\.\d+)?|\.\d+)$/;
const STEP_MS = { seconds: 1000, minutes: 60_000, days: 86_400_000 } as const;

/** The first text that is not empty at some paths in a header. */
function headerText(header: RecordView, paths: readonly FieldPath[]): string {
  for (const path of paths) {
    const text = path.type === 'H' ? textAt(header, path) : '';
    if (text !== '') return text;
  }
  return '';
}

/** The first text that is not empty: paths in their order, each through the group's records in their order. */
function groupText(group: TestGroup, paths: readonly FieldPath[]): string {
  for (const path of paths) {
    const text = groupTextAt(group, path);
    if (text !== '') return text;
  }
  return '';
}

function groupTextAt(group: TestGroup, path: FieldPath): string {
  switch (path.type) {
    case 'H':
      return textAt(group.header, path);
    case 'P':
      return group.patient ? textAt(group.patient, path) : '';
    case 'O':
      return textAt(group.order, path);
    default:
      for (const part of group.parts) {
        const text = part.type === path.type ? textAt(part, path) : '';
        if (text !== '') return text;
      }
      return '';
  }
}

/** Who sends, from a header; undefined where the serial number is missing. */
export function identityOf(header: RecordView, profile: MeterProfile): MeterIdentity | undefined {
  const paths = pathsOf(profile);
  const id = headerText(header, paths.meterId);
  if (id === '') return undefined;
  const firmware = headerText(header, paths.firmware);
  return { id, model: headerText(header, paths.model), ...(firmware === '' ? {} : { firmware }) };
}

/** A stamp at the profile's resolution; undefined where the text is no time that exists. */
function readStamp(text: string, profile: MeterProfile): MeterTime | undefined {
  const parsed = parseCompactTime(text);
  if (!parsed.ok) return undefined;
  const coarsest = profile.resolution === undefined ? 0 : STEP_MS[profile.resolution];
  return coarsest > parsed.value.resolutionMs ? { ...parsed.value, resolutionMs: coarsest } : parsed.value;
}

/** What the meter's clock showed when it made the header; undefined where the header does not say. */
export const headerClock = (header: RecordView, profile: MeterProfile): MeterTime | undefined =>
  readStamp(headerText(header, pathsOf(profile).clock), profile);

/** True where an order has a result, so that it is a test. */
export const isTest = (group: TestGroup): boolean => group.parts.some((part) => part.type === 'R');

/** The test that a group of records tells. Its place is the slot, or empty where the meter gives none. */
export function testOf(group: TestGroup, profile: MeterProfile): TestDraft {
  const paths = pathsOf(profile);
  const test: TestDraft = { place: '', meterTimeText: '', kind: 'patient', values: [], flags: [] };
  const slot = wholeNumber(groupText(group, paths.slot));
  if (slot !== undefined) {
    test.slot = slot;
    test.place = String(slot);
  }
  const runNumber = wholeNumber(groupText(group, paths.runNumber));
  if (runNumber !== undefined) test.runNumber = runNumber;
  readResults(test, group, paths);
  readTime(test, groupText(group, paths.time), profile);
  if (test.kind !== 'error' && groupTextAt(group, paths.control.path) === paths.control.text) test.kind = 'control';
  keep(test, 'operator', groupText(group, paths.operator));
  keep(test, 'lot', groupText(group, paths.lot));
  keep(test, 'patientId', groupText(group, paths.patientId));
  const extra = extraOf(group, paths);
  if (extra) test.extra = extra;
  readExpiry(test, groupText(group, paths.lotExpiry));
  return test;
}

function keep(test: TestDraft, fact: 'operator' | 'lot' | 'patientId', text: string): void {
  if (text !== '') test[fact] = text;
}

const wholeNumber = (text: string): number | undefined => (/^[1-9]\d{0,9}$/.test(text) ? Number(text) : undefined);

function addFlag(test: TestDraft, flag: string): void {
  if (flag !== '' && !test.flags.includes(flag)) test.flags.push(flag);
}

/** Values, flags and error code. A result that could not be made is no value: see `errorOf`. */
function readResults(test: TestDraft, group: TestGroup, paths: ProfilePaths): void {
  const values: Value[] = [];
  let errorCode: string | undefined;
  let isUnreadable = false;
  for (let i = 0; i < group.parts.length; i++) {
    const part = group.parts[i];
    if (part?.type !== 'R') continue;
    const value = resultText(part, group, paths.value);
    const status = resultText(part, group, paths.status);
    const error = status === 'X' || value === '' ? errorOf(group.parts, i, value, status) : undefined;
    if (error !== undefined) errorCode ??= error;
    else {
      const name = resultText(part, group, paths.analyte) || part.field(3);
      const unit = resultText(part, group, paths.unit);
      values.push({ analyte: paths.analytes.get(name) ?? name, value, unit: paths.units.get(unit) ?? unit });
      isUnreadable ||= !DECIMAL.test(value);
    }
    const flags = resultText(part, group, paths.flags);
    if (flags !== '') for (const flag of flags.split('\\')) addFlag(test, flag);
    if (status !== '' && status !== 'F') addFlag(test, `status-${status}`);
  }
  test.values = values;
  if (isUnreadable) addFlag(test, 'value-unreadable');
  if (errorCode === undefined) return;
  if (values.length === 0) {
    test.kind = 'error';
    test.errorCode = errorCode;
  } else addFlag(test, 'value-missing');
}

/** A fact of one result: from the result itself where the path points to R, else from the group. */
function resultText(result: RecordView, group: TestGroup, paths: readonly FieldPath[]): string {
  for (const path of paths) {
    const text = path.type === 'R' ? textAt(result, path) : groupTextAt(group, path);
    if (text !== '') return text;
  }
  return '';
}

/**
 * The error code of a result that was not made; undefined where it is none of those, and its value stands as it is. Not
 * made: its status is X (cannot be done), or it has no value and an instrument comment with a code stands behind it. The
 * code is the text in place of the value, else that comment's, else `X`.
 */
function errorOf(parts: readonly RecordView[], at: number, value: string, status: string): string | undefined {
  const isFailed = status === 'X';
  if (isFailed && value !== '' && !DECIMAL.test(value)) return value;
  for (let i = at + 1; i < parts.length; i++) {
    const part = parts[i];
    if (!part || part.type === 'R') break;
    const isByInstrument = part.type === 'C' && (part.component(3, 1) === 'I' || part.component(5, 1) === 'I');
    if (isByInstrument && part.component(4, 1) !== '') return part.component(4, 1);
  }
  return isFailed ? 'X' : undefined;
}

function readTime(test: TestDraft, text: string, profile: MeterProfile): void {
  const time = readStamp(text, profile);
  test.meterTimeText = time?.text ?? text;
  if (time) test.meterTime = time;
  else if (text !== '') addFlag(test, 'time-unreadable');
}

function readExpiry(test: TestDraft, text: string): void {
  if (text === '') return;
  const month = /^(\d{4})(0[1-9]|1[0-2])$/.exec(text);
  const day = month ? undefined : parseCompactTime(text);
  if (month) test.lotExpiry = `${month[1]}-${month[2]}`;
  else if (day?.ok) test.lotExpiry = day.value.text.slice(0, 10);
  else {
    test.extra = { ...test.extra, lotExpiry: text };
    addFlag(test, 'expiry-unreadable');
  }
}

/** What the profile does not ask for, kept as given: `O.16`, `R.6`, and `R2.6` for the second result. */
function extraOf(group: TestGroup, paths: ProfilePaths): Record<string, string> | undefined {
  let extra: Record<string, string> | undefined;
  const counts: Partial<Record<string, number>> = {};
  for (const record of [group.order, ...group.parts]) {
    const count = (counts[record.type] ?? 0) + 1;
    counts[record.type] = count;
    for (let n = 3; n <= record.size; n++) {
      if (record.isEmpty(n) || isAsked(record, n, paths.asked)) continue;
      extra ??= {};
      extra[`${record.type}${count === 1 ? '' : count}.${n}`] = record.field(n);
    }
  }
  return extra;
}
