/** The work of `tallydock outlet send`: what waits is handed over once, without a daemon. */
import { asFault, Fault } from '../core/fault.ts';
import { takeForwardLock } from '../outlets/forward-lock.ts';
import type { Gateway } from '../outlets/kinds.ts';
import { openOutlet } from '../outlets/open-outlet.ts';
import { workOff } from '../outlets/work-off.ts';
import type { StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { readConfig } from './config.ts';
import { gatewayOf } from './outlet-gateway.ts';
import { outletOf } from './outlet-work.ts';
import { faultLine, note, print, printJson } from './output.ts';
import { stopRequests } from './stop-requests.ts';
import { withRecord } from './with-record.ts';

/** What came of one outlet. */
interface Sent {
  readonly name: string;
  readonly taken: number;
  readonly refused: number;
  readonly fault?: Fault;
}

/** Sends. Rejects with OUTLET_UNKNOWN, NOT_POSSIBLE for one that is paused, or STORE_BUSY where another program feeds the outlets. */
export function sendNow(names: readonly string[], options: CommonOptions): Promise<void> {
  const folder = dataFolderOf(options);
  return withRecord(options, async ({ store }) => {
    const named = names.map((name) => outletOf(store, name));
    for (const { name, state } of named)
      if (state === 'paused')
        throw new Fault(
          'NOT_POSSIBLE',
          `Outlet "${name}" is paused`,
          `"tallydock outlet resume ${name}" feeds it again.`,
        );
    const outlets = (named.length > 0 ? named : store.outlets.list()).filter((outlet) => outlet.state === 'running');
    const lock = takeForwardLock(folder);
    if (!lock)
      throw new Fault(
        'STORE_BUSY',
        'Another program feeds the outlets of this store: the daemon, or another "outlet send"',
        'The daemon hands everything over by itself; "tallydock status" shows how far it is',
      );
    const requests = stopRequests();
    const stop = new AbortController();
    void requests.first.then(() => stop.abort());
    try {
      const gateway = gatewayOf(store, readConfig(folder));
      const sent = await Promise.all(outlets.map((row) => sendOne(row, store, gateway, stop.signal)));
      await say(sent, options);
      if (sent.some(({ fault }) => fault)) process.exitCode = 3;
    } finally {
      requests.dispose();
      lock.release();
    }
  });
}

/** Works off what waits at one outlet. Never rejects. */
async function sendOne(row: StoredOutlet, store: Store, gateway: Gateway, signal: AbortSignal): Promise<Sent> {
  let [taken, refused] = [0, 0];
  try {
    const open = await openOutlet(row, gateway);
    try {
      for (;;) {
        const worked = await workOff(row.outletNo, open, { store, now: gateway.now, signal });
        if (worked.kind === 'idle') break;
        taken += worked.taken;
        refused += worked.refused;
      }
    } finally {
      await open.outlet.close();
    }
    return { name: row.name, taken, refused };
  } catch (thrown) {
    return { name: row.name, taken, refused, fault: asFault(thrown) };
  }
}

async function say(sent: readonly Sent[], options: CommonOptions): Promise<void> {
  for (const { name, taken, refused, fault } of sent) {
    if (options.json)
      await printJson({
        name,
        sent: taken,
        refused,
        fault: fault ? { code: fault.code, message: fault.message } : null,
      });
    else
      await print(
        `${name}: ${taken} sent${refused > 0 ? `, ${refused} refused (tallydock outlet list --refused)` : ''}${fault ? '; the rest waits' : ''}\n`,
      );
    if (fault) note(faultLine(fault));
  }
  if (sent.length === 0 && !options.json) await print('No outlet is added, or all are paused.\n');
}
