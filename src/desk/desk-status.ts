/** The docks as the desk shows them: what the daemon says, with whose meter it is and what the last download came to. */
import type { Instant } from '../core/instant.ts';
import type { DaemonStatus, DockStatus } from '../dock/daemon.ts';
import { strokesOf } from '../reports/gather-visit.ts';
import type { StoredDownload } from '../store/downloads.ts';
import { isLentAt } from '../store/lends.ts';
import type { Store } from '../store/store.ts';
import type { DeskDock, DeskStatus, LastDownload, PersonName } from './api/live.ts';
import { namedByNumber } from './named.ts';
import type { DeskTools } from './tools.ts';

/** Makes the status; what does not change of a download is found out once. */
export function makeDeskStatus({ store, daemon, now }: Pick<DeskTools, 'store' | 'daemon' | 'now'>): () => DeskStatus {
  const known = new Map<string, LastDownload>();
  const lastOf = (id: string): LastDownload | undefined => {
    const download = store.downloads.get(id as StoredDownload['id']);
    if (!download) return undefined;
    const kept = known.get(id) ?? lastDownload(store, download);
    known.set(id, kept);
    // The newest of each dock are asked for; what is older is no longer shown.
    const [oldest] = known.keys();
    if (known.size > 100 && oldest !== undefined) known.delete(oldest);
    const person = personOf(store, download.meterId, download.meterModel, download.at);
    return { ...kept, ...(person ? { person } : {}), waiting: store.judged.countHeldFrom(download.id) };
  };
  const dockOf = (dock: DockStatus, at: Instant): DeskDock => {
    const last = dock.lastDownload === undefined ? undefined : lastOf(dock.lastDownload);
    const person = dock.meter ? personOf(store, dock.meter.id, dock.meter.model, at) : undefined;
    return {
      name: dock.name,
      phase: dock.phase,
      since: dock.since,
      ...(dock.meter ? { meter: { id: dock.meter.id, model: dock.meter.model } } : {}),
      ...(person ? { person } : {}),
      ...(dock.read === undefined ? {} : { read: dock.read }),
      ...(dock.held === undefined ? {} : { held: dock.held }),
      ...(last ? { last } : {}),
      ...(dock.trouble ? { trouble: dock.trouble } : {}),
      ...(dock.nextTryAt === undefined ? {} : { nextTryAt: dock.nextTryAt }),
    };
  };
  return () => {
    const status: DaemonStatus = daemon.status();
    const at = now();
    return {
      now: at,
      docks: status.docks.map((dock) => dockOf(dock, at)),
      outlets: status.outlets,
      waiting: store.judged.countHeld(),
      warnings: status.warnings,
    };
  };
}

/** Who has a meter at a moment. */
function personOf(store: Store, meterId: string, model: string, at: Instant): PersonName | undefined {
  const lend = store.lends.list({ meterId, model }).findLast((lend) => isLentAt(lend, at));
  return namedByNumber(store, lend?.patientNo);
}

function lastDownload(store: Store, download: StoredDownload): LastDownload {
  const [meter] = store.meters.list(download.meterId).filter((m) => m.model === download.meterModel);
  const readings = meter ? store.readings.ofMeter(meter.meterNo) : [];
  const tally = strokesOf(readings, new Set([download.id]), download);
  const { id, at, meterId, complete, held, clockOffS, clockSet } = download;
  return {
    id,
    at,
    meterId,
    new: download.new,
    known: download.known,
    complete,
    tally,
    open: Math.max(0, (held ?? tally.length) - tally.length),
    isTorn: held !== undefined && meter?.capacity !== undefined && held >= meter.capacity,
    ...(clockOffS === undefined ? {} : { clockOffS }),
    clockSet,
    waiting: 0,
  };
}
