/** The work of `tallydock lend` and `tallydock take-back`. */
import { Fault } from '../core/fault.ts';
import { formatSeconds } from '../core/instant.ts';
import { lendMeter, takeBack, undoLend } from '../record/lending.ts';
import type { StoredLend } from '../store/lends.ts';
import type { Store } from '../store/store.ts';
import { momentOption, wholeOption } from './option-values.ts';
import { note, print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';
import { withStore } from './with-store.ts';

/** The options of one call. */
export type LendCall = RecordOptions & {
  readonly from?: string;
  readonly until?: string;
  readonly model?: string;
  readonly list?: boolean;
  readonly undo?: string;
};

/** Lends, lists or takes a lend back. Throws PATIENT_UNKNOWN or NOT_POSSIBLE. */
export function lend(meterId: string | undefined, patientId: string | undefined, options: LendCall): Promise<void> {
  if (options.list) return listLends(options);
  return withRecord(options, async ({ store, context, zone }) => {
    const undo = wholeOption('--undo', options.undo, 1, Number.MAX_SAFE_INTEGER);
    if (undo !== undefined) {
      undoLend(store, context, undo);
      if (options.json) await printJson({ lend: undo, undone: true });
      else if (!options.quiet) note(`Lend ${undo} was taken back; its readings are judged anew.`);
      return;
    }
    if (meterId === undefined || patientId === undefined)
      throw new Fault('CALL_WRONG', 'Which meter, and to whom?', 'Write: tallydock lend METER PATIENT');
    const to = momentOption('--until', options.until, zone);
    const made = lendMeter(store, context, {
      meterId,
      patientId,
      from: momentOption('--from', options.from, zone) ?? context.now,
      ...(to === undefined ? {} : { to }),
      ...(options.model === undefined ? {} : { model: options.model }),
    });
    if (options.json) await printJson(lendJson(store, made));
    else if (!options.quiet) {
      const until = made.to === undefined ? '' : ` until ${localMinute(made.to, zone)}`;
      note(`Meter ${meterId} is lent to ${patientId} from ${localMinute(made.from, zone)}${until}.`);
      if (store.meters.list(meterId).length === 0)
        note(
          `A meter ${meterId} was never read here yet; compare the number with what the meter says when it is docked.`,
        );
    }
  });
}

/** Notes that a meter has come back. Throws NOT_POSSIBLE. */
export function takeBackMeter(
  meterId: string,
  options: RecordOptions & { readonly at?: string; readonly model?: string },
): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const ended = takeBack(
      store,
      context,
      meterId,
      momentOption('--at', options.at, zone) ?? context.now,
      options.model,
    );
    const { id } = store.patients.byNumber(ended.patientNo) ?? { id: 'somebody' };
    if (options.json) await printJson(lendJson(store, ended));
    else if (!options.quiet)
      note(`Meter ${meterId} came back from ${id} at ${localMinute(ended.to ?? context.now, zone)}.`);
  });
}

function listLends(options: LendCall): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const lends = store.lends.list();
    if (options.json) {
      for (const one of lends) await printJson(lendJson(store, one));
      return;
    }
    const table = makeTable(['>lend', 'meter', 'person', `from (${zone})`, 'until']);
    await print(
      lends.length === 0
        ? 'No meter was ever lent.\n'
        : table.rows(
            lends.map((l) => [
              String(l.lendNo),
              l.meterId,
              store.patients.byNumber(l.patientNo)?.id ?? '',
              localMinute(l.from, zone),
              l.to === undefined ? 'still lent' : localMinute(l.to, zone),
            ]),
          ),
    );
  });
}

const lendJson = (store: Store, l: StoredLend): Record<string, unknown> => ({
  lend: l.lendNo,
  meter_id: l.meterId,
  meter_model: l.model ?? null,
  patient_id: store.patients.byNumber(l.patientNo)?.id ?? null,
  from: formatSeconds(l.from, 'round'),
  to: l.to === undefined ? null : formatSeconds(l.to, 'round'),
});
