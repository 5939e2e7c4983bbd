/**
 * `collect` where a daemon runs on the same store: a port that is the daemon's is read by it, since two readers on one
 * port would tear each other's bytes apart. What comes of it is said as if this program had read it.
 */
import { asFault, Fault } from '../core/fault.ts';
import { type ControlClient, controlClient } from '../dock/control/client.ts';
import { type LockHolder, namedDaemon } from '../dock/lock.ts';
import type { Collected } from '../intake/collect.ts';
import type { Store } from '../store/store.ts';
import type { SetClock } from '../wire/talk.ts';

/** Reads a port through the daemon if it is the daemon's; undefined where it is nobody's. Never rejects. */
export type ReadByDaemon = (port: string) => Promise<Collected | undefined>;

/** What a call may say about its ports. The daemon takes only `setClock` from it. */
export interface PortWishes {
  readonly setClock?: SetClock;
  readonly profile?: string;
  readonly zone?: string;
  readonly baud?: number;
  readonly wait?: number;
}

/** What `readByDaemon` works with. */
export interface DaemonCollect {
  readonly folder: string;
  readonly options: PortWishes;
  readonly store: Store;
  /** Leaves; the daemon reads on. */
  readonly signal: AbortSignal;
}

/** Asks the daemon of a data folder, if one runs. */
export function readByDaemon({ folder, options, store, signal }: DaemonCollect): ReadByDaemon {
  const client = controlClient(folder);
  return async (port) => {
    const failed = (fault: Fault): Collected => ({ port, downloads: [], fault });
    let holder: LockHolder | undefined;
    try {
      holder = client.holder();
      if (!holder || !(await client.owns(port))) return undefined;
    } catch (thrown) {
      const fault = asFault(thrown);
      // It ended between two questions: the port is free.
      return fault.code === 'DAEMON_MISSING' ? undefined : failed(mayBeBusy(port, holder, fault));
    }
    const own = ownSetting(options);
    if (own) return failed(hasOwnSettings(port, holder, own));
    return collectBy(client, port, { options, store, signal }).catch((thrown: unknown) => failed(asFault(thrown)));
  };
}

async function collectBy(
  client: ControlClient,
  port: string,
  { options, store, signal }: Omit<DaemonCollect, 'folder'>,
): Promise<Collected> {
  const call = { port, ...(options.setClock === undefined ? {} : { setClock: options.setClock }) };
  const { downloads, fault } = await client.collect(call, signal).catch((thrown: unknown) => {
    throw signal.aborted ? leftAlone(port) : thrown;
  });
  const stored = downloads.flatMap((id) => store.downloads.get(id) ?? []);
  return { port, downloads: stored, ...(fault ? { fault } : {}) };
}

/** The daemon's name in a fault of a port that is busy because a daemon has it, perhaps by another name of the port. */
export function namingDaemon(collected: Collected, folder: string): Collected {
  if (collected.fault?.code !== 'PORT_BUSY') return collected;
  const holder = controlClient(folder).holder();
  return holder ? { ...collected, fault: mayBeBusy(collected.port, holder, collected.fault) } : collected;
}

/** The option of a call that the daemon would not follow: it reads its ports as its config says. */
const ownSetting = (options: PortWishes): string | undefined =>
  (['profile', 'zone', 'baud', 'wait'] as const).find((name) => options[name] !== undefined);

const mayBeBusy = (port: string, holder: LockHolder | undefined, cause: Fault): Fault =>
  new Fault(
    'PORT_BUSY',
    `Port ${port} may be in use by ${namedDaemon(holder)}`,
    'See with `tallydock status` what it does; stop it with `tallydock serve --stop` to read the port yourself.',
    { cause },
  );

const hasOwnSettings = (port: string, holder: LockHolder, option: string): Fault =>
  new Fault(
    'PORT_BUSY',
    `Port ${port} is read by ${namedDaemon(holder)}, which follows config.toml and not --${option}`,
    `Leave --${option} away, or stop the daemon first with \`tallydock serve --stop\`.`,
  );

const leftAlone = (port: string): Fault =>
  new Fault(
    'DAEMON_FAILED',
    `Left while the daemon was reading ${port}`,
    'It reads on: see with `tallydock status`, and then with `tallydock downloads`.',
  );
