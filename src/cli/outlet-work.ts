/** The work of `tallydock outlet` but for adding one and sending. */
import { Fault } from '../core/fault.ts';
import { formatInstant } from '../core/instant.ts';
import { kindOf } from '../outlets/kinds.ts';
import { openOutlet, settingsOf } from '../outlets/open-outlet.ts';
import { audit } from '../record/context.ts';
import type { StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { readConfig } from './config.ts';
import { momentOption } from './option-values.ts';
import { gatewayOf } from './outlet-gateway.ts';
import { note, print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { outletsOf } from './serve-forwarding.ts';
import { outletJson, outletLookLines, outletTable } from './status-text.ts';
import { makeTable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';
import { withChangingStore, withStore } from './with-store.ts';

export type ListCall = CommonOptions & { readonly refused?: boolean };
export type PrepareCall = CommonOptions & { readonly partitions?: number };
export type ReplayCall = RecordOptions & {
  readonly since?: string;
  readonly all?: boolean;
  readonly refused?: boolean;
};

/** An outlet by its name. Throws OUTLET_UNKNOWN. */
export function outletOf(store: Store, name: string): StoredOutlet {
  const found = store.outlets.find(name);
  if (found) return found;
  throw new Fault('OUTLET_UNKNOWN', `There is no outlet "${name}"`, '"tallydock outlet list" shows those there are');
}

/** Lists the outlets, or what their receivers refused. */
export function listOutlets(options: ListCall): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    if (options.refused) return listRefused(store, zone, options);
    const outlets = outletsOf(store);
    if (options.json) for (const outlet of outlets) await printJson(outletJson(outlet));
    else if (outlets.length === 0) await print('No outlet is added.\n');
    else {
      const look = outletLookLines(outlets, zone);
      await print(`${outletTable(outlets, zone)}${look.length > 0 ? '\n' : ''}${look.map((l) => `${l}\n`).join('')}`);
    }
  });
}

async function listRefused(store: Store, zone: string, options: ListCall): Promise<void> {
  const refused = store.outlets
    .list()
    .flatMap(({ name, outletNo }) => store.outlets.setAside(outletNo).map((aside) => ({ outlet: name, ...aside })));
  if (options.json)
    for (const r of refused)
      await printJson({
        outlet: r.outlet,
        reading_id: r.reading,
        version: r.version,
        at: formatInstant(r.at),
        tries: r.tries,
        reason: r.reason,
      });
  else if (refused.length === 0) await print('Nothing was refused.\n');
  else
    await print(
      makeTable(['outlet', 'reading', '>version', `refused (${zone})`, '>tries', 'reason']).rows(
        refused.map((r) => [
          r.outlet,
          r.reading,
          String(r.version),
          localMinute(r.at, zone),
          String(r.tries),
          r.reason,
        ]),
      ),
    );
}

/** Asks the receiver whether it is there. Rejects with OUTLET_UNKNOWN, OUTLET_INVALID or OUTLET_DOWN. */
export function tryOutlet(name: string, options: CommonOptions): Promise<void> {
  return withOutlet(name, options, async ({ row, store }) => {
    const gateway = gatewayOf(store, readConfig(dataFolderOf(options)));
    // Opened first as the daemon does it, so that a wrong key is found here as well.
    await (await openOutlet(row, gateway)).outlet.close();
    await kindOf(row.kind).reach(settingsOf(row), gateway, new AbortController().signal);
    if (options.json) await printJson({ name, reached: true });
    else if (!options.quiet) note(`The receiver of "${name}" is there. No reading was sent.`);
  });
}

/** Makes what the receiver needs. Rejects with NOT_POSSIBLE where there is nothing to make. */
export function prepareOutlet(name: string, options: PrepareCall): Promise<void> {
  return withOutlet(name, options, async ({ row }) => {
    const { prepare } = kindOf(row.kind);
    if (!prepare)
      throw new Fault(
        'NOT_POSSIBLE',
        `An outlet of kind ${row.kind} needs no preparing`,
        `Run "tallydock outlet try ${name}"`,
      );
    await prepare(settingsOf(row), options.partitions ?? 0);
    if (options.json) await printJson({ name, prepared: true });
    else if (!options.quiet) note(`The tables of "${name}" are there.`);
  });
}

/** Pauses an outlet, or goes on. Rejects with OUTLET_UNKNOWN. */
export function setPaused(name: string, isPaused: boolean, options: RecordOptions): Promise<void> {
  return change(name, options, isPaused ? 'outlet-paused' : 'outlet-resumed', ({ store, row }) => {
    store.outlets.setState(row.outletNo, isPaused ? 'paused' : 'running');
    return isPaused ? `Outlet "${name}" is paused; what comes meanwhile waits.` : `Outlet "${name}" goes on.`;
  });
}

/** Removes an outlet. Rejects with OUTLET_UNKNOWN. */
export function removeOutlet(name: string, options: RecordOptions): Promise<void> {
  return change(name, options, 'outlet-removed', ({ store, row }) => {
    store.outlets.remove(row.outletNo);
    return `Outlet "${name}" is removed; what it was sent stays with its receiver.`;
  });
}

/** Has readings handed over again. Rejects with OUTLET_UNKNOWN or CALL_WRONG. */
export function replayOutlet(name: string, options: ReplayCall): Promise<void> {
  const { since, all, refused } = options;
  if (since === undefined && !all && !refused)
    throw new Fault('CALL_WRONG', 'It is not said what to hand over again', 'Add --since TIME, --all or --refused');
  return change(name, options, 'outlet-replayed', ({ store, row, zone }) => {
    if (refused) return `${store.outlets.tryAgain(row.outletNo)} refused readings of "${name}" are tried again.`;
    const from = momentOption('--since', since, zone);
    const cursor = from === undefined ? 0 : store.outgoing.seqBefore(from);
    store.outlets.rewind(row.outletNo, Math.min(cursor, row.cursor));
    return `What came about since ${from === undefined ? 'the beginning' : `${localMinute(from, zone)} (${zone})`} goes to "${name}" again.`;
  });
}

/** What a change of an outlet is made with. */
interface Change {
  readonly store: Store;
  readonly row: StoredOutlet;
  readonly zone: string;
}

/** Changes an outlet and notes it in the audit chain, in one transaction; says what was done. */
function change(name: string, options: RecordOptions, action: string, act: (change: Change) => string): Promise<void> {
  return withRecord(options, async ({ store, context, zone }) => {
    const said = store.db.write(() => {
      const row = outletOf(store, name);
      const sentence = act({ store, row, zone });
      audit(store, context, action, name, { kind: row.kind });
      return sentence;
    });
    const left = store.outlets.find(name);
    if (options.json) await printJson({ name, state: left?.state ?? 'removed' });
    else if (!options.quiet) note(said);
  });
}

/** Runs `work` on an outlet of the store, outside any transaction. */
function withOutlet(
  name: string,
  options: CommonOptions,
  work: (given: { readonly row: StoredOutlet; readonly store: Store }) => Promise<void>,
): Promise<void> {
  return withChangingStore(options, ({ store }) => work({ row: outletOf(store, name), store }));
}
