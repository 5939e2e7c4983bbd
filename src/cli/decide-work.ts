/** The work of `release`, `assign`, `void` and `undo`. */
import { Fault } from '../core/fault.ts';
import type { ReadingId } from '../core/reading.ts';
import { assign, release, strikeOut, undoDecision } from '../record/deciding.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { Store } from '../store/store.ts';
import { note, printJson } from './output.ts';
import { type RecordOptions, withRecord } from './with-record.ts';

type Reasoned = RecordOptions & { readonly reason: string };

const asIds = (ids: readonly string[]): ReadingId[] => [...new Set(ids)] as ReadingId[];

/** Releases. Throws READING_UNKNOWN or NOT_POSSIBLE; then nothing is changed. */
export function releaseReadings(ids: readonly string[], options: Reasoned): Promise<void> {
  return withRecord(options, async ({ store, context }) =>
    say(store, options, release(store, context, asIds(ids), options.reason)),
  );
}

/** Assigns. Throws READING_UNKNOWN, PATIENT_UNKNOWN or NOT_POSSIBLE; then nothing is changed. */
export function assignReadings(
  ids: readonly string[],
  options: Reasoned & { readonly to?: string; readonly proposed?: boolean; readonly nobody?: boolean },
): Promise<void> {
  const given = [options.to !== undefined, options.proposed === true, options.nobody === true].filter(Boolean).length;
  if (given !== 1) throw new Fault('CALL_WRONG', 'To whom?', 'Give one of --to PATIENT, --proposed and --nobody.');
  return withRecord(options, async ({ store, context }) => {
    const judged = store.db.write(() => {
      if (!options.proposed) return assign(store, context, asIds(ids), options.to, options.reason);
      return asIds(ids).flatMap((id) => {
        const no = store.judged.get(id)?.proposedNo;
        const person = no === undefined ? undefined : store.patients.byNumber(no);
        if (!person) throw new Fault('NOT_POSSIBLE', `Nobody is proposed for ${id}`, 'Say who with --to PATIENT.');
        return assign(store, context, [id], person.id, options.reason);
      });
    });
    await say(store, options, judged);
  });
}

/** Strikes out. Throws READING_UNKNOWN or NOT_POSSIBLE; then nothing is changed. */
export function strikeOutReadings(ids: readonly string[], options: Reasoned): Promise<void> {
  return withRecord(options, async ({ store, context }) =>
    say(store, options, strikeOut(store, context, asIds(ids), options.reason)),
  );
}

/** Takes the newest decision back. Throws READING_UNKNOWN or NOT_POSSIBLE. */
export function undoLast(id: string, options: Reasoned): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    undoDecision(store, context, id as ReadingId, options.reason);
    await say(store, options, store.judged.of([id as ReadingId]));
  });
}

/** Says how the readings stand now. */
async function say(store: Store, options: RecordOptions, judged: readonly StoredJudged[]): Promise<void> {
  for (const one of judged) {
    const person = one.patientNo === undefined ? undefined : store.patients.byNumber(one.patientNo)?.id;
    const waits = one.holds.filter((h) => !h.isReleased);
    if (options.json)
      await printJson({
        reading_id: one.reading,
        patient_id: person ?? null,
        status: one.status,
        holds: waits.map(({ code, sentence }) => ({ code, sentence })),
      });
    else if (!options.quiet) {
      const whose = person === undefined ? '' : ` of ${person}`;
      const rest = waits.map((h) => ` ${h.sentence}.`).join('');
      note(`${one.reading}${whose}: ${STATUS[one.status]}.${one.status === 'held' ? rest : ''}`);
    }
  }
}

const STATUS: Readonly<Record<StoredJudged['status'], string>> = {
  settled: 'clear',
  provisional: 'clear, but seen only in a download that was cut off',
  held: 'still waits',
  void: 'struck out',
};
