/**
 * A client's side of the control channel: finds the daemon of a data folder by its lock, asks one thing a connection,
 * and says plainly where no daemon runs or where it does not answer.
 */
import { connect } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { Fault } from '../../core/fault.ts';
import type { DownloadId } from '../../core/reading.ts';
import type { CollectCallToDaemon, DaemonFigures, DaemonStatus } from '../daemon.ts';
import { type LockHolder, lockHolder, namedDaemon } from '../lock.ts';
import { makeLineCutter } from './lines.ts';
import { Answer, faultOf, MAX_ANSWER_BYTES, type Request } from './messages.ts';

/** What a collect through the daemon came to; the downloads are in the store. */
export interface CollectedByDaemon {
  readonly downloads: readonly DownloadId[];
  readonly fault?: Fault;
}

/** Every call rejects with DAEMON_MISSING where no daemon runs, DAEMON_FAILED where it does not answer as it should. */
export interface ControlClient {
  /** Who holds the store now; undefined where no daemon runs. Throws STORE_DENIED or STORE_DAMAGED. */
  holder(): LockHolder | undefined;
  status(): Promise<DaemonStatus>;
  figures(): Promise<{ readonly status: DaemonStatus; readonly figures: DaemonFigures }>;
  /** True where the daemon watches this port. */
  owns(port: string): Promise<boolean>;
  /** Reads the meter at one of the daemon's ports. Leaving by `signal` rejects with its reason; the daemon reads on. */
  collect(call: CollectCallToDaemon, signal?: AbortSignal): Promise<CollectedByDaemon>;
  /** The status now and after every change, until the daemon ends or `signal` is aborted. */
  watch(listener: (status: DaemonStatus) => void, signal?: AbortSignal): Promise<void>;
  /** Asks the daemon to stop; resolves when it has stopped. */
  stop(how: 'clean' | 'now'): Promise<void>;
}

/** A daemon that is well answers within milliseconds; one that takes in a large download, within a second or two. */
const ANSWER_MS = 10_000;

const LOCK_POLL_MS = 20;

/** The client for the daemon of a data folder. `answerMs`: how long to wait for an answer that needs no meter. */
export function controlClient(dataDir: string, answerMs = ANSWER_MS): ControlClient {
  const holder = (): LockHolder => {
    const found = lockHolder(dataDir);
    if (found) return found;
    throw new Fault(
      'DAEMON_MISSING',
      `No daemon runs on ${dataDir}`,
      'Start it with `tallydock serve`, or name the right folder with --data.',
    );
  };
  /** The one answer to a request; resolves when the daemon has closed the connection. */
  const ask = async (request: Request, limits: Limits): Promise<Answer> => {
    const to = holder();
    let first: Answer | undefined;
    const hear = (answer: Answer): void => {
      first ??= answer;
    };
    await converse(to, request, hear, limits);
    return first ?? fail(to, `ended without an answer to "${request.op}"`);
  };
  const soon = { withinMs: answerMs };
  return {
    holder: () => lockHolder(dataDir),
    async status() {
      const answer = await ask({ op: 'status' }, soon);
      return answer.kind === 'status' ? answer.status : unexpected(answer);
    },
    async figures() {
      const answer = await ask({ op: 'figures' }, soon);
      return answer.kind === 'figures' ? answer : unexpected(answer);
    },
    async owns(port) {
      const answer = await ask({ op: 'owns', port }, soon);
      return answer.kind === 'owns' ? answer.owns : unexpected(answer);
    },
    async collect(call, signal) {
      const answer = await ask({ op: 'collect', ...call }, { signal });
      if (answer.kind !== 'collected') return unexpected(answer);
      const { downloads, fault } = answer;
      return { downloads, ...(fault ? { fault: faultOf(fault) } : {}) };
    },
    async watch(listener, signal) {
      const hear = (answer: Answer): void => {
        if (answer.kind === 'status') listener(answer.status);
        else unexpected(answer);
      };
      try {
        await converse(holder(), { op: 'watch' }, hear, { signal });
      } catch (thrown) {
        if (!signal?.aborted) throw thrown;
      }
    },
    async stop(how) {
      const { pid, since } = holder();
      const answer = await ask({ op: 'stop', how }, {});
      if (answer.kind !== 'stopping') unexpected(answer);
      // The channel closes a moment before the store is free for the next daemon.
      for (let now = lockHolder(dataDir); now?.pid === pid && now.since === since; now = lockHolder(dataDir))
        await sleep(LOCK_POLL_MS);
    },
  };
}

/** What ends a conversation before the daemon does. */
interface Limits {
  readonly signal?: AbortSignal | undefined;
  readonly withinMs?: number;
}

const LOOK = 'Look into its log, or stop it and start it again.';

function fail(holder: LockHolder, what: string, hint = LOOK, cause?: unknown): never {
  const name = namedDaemon(holder).replace(/^a/, 'A');
  throw new Fault('DAEMON_FAILED', `${name} ${what}`, hint, cause === undefined ? {} : { cause });
}

function unexpected(answer: Answer): never {
  if (answer.kind === 'fault') throw faultOf(answer.fault);
  throw new Fault(
    'DAEMON_FAILED',
    `The daemon answered "${answer.kind}" to another question`,
    'Start it again with the same version of tallydock as this one.',
  );
}

/** One conversation: sends the request, tells every answer, resolves when the daemon has closed. */
async function converse(
  holder: LockHolder,
  request: Request,
  onAnswer: (answer: Answer) => void,
  { signal, withinMs }: Limits,
): Promise<void> {
  const cutter = makeLineCutter(MAX_ANSWER_BYTES);
  await new Promise<void>((resolve, reject) => {
    const socket = connect(holder.control);
    const end = (settle: () => void): void => {
      clearTimeout(timer);
      signal?.removeEventListener('abort', onAbort);
      socket.destroy();
      settle();
    };
    const rejectWith = (work: () => never): void => {
      try {
        work();
      } catch (thrown) {
        end(() => reject(thrown));
      }
    };
    const timer =
      withinMs === undefined
        ? undefined
        : setTimeout(() => rejectWith(() => fail(holder, `did not answer within ${withinMs / 1000} s`)), withinMs);
    const onAbort = (): void => end(() => reject(signal?.reason));
    signal?.addEventListener('abort', onAbort);
    if (signal?.aborted) onAbort();
    let isOpen = false;
    socket.on('connect', () => {
      isOpen = true;
      socket.write(`${JSON.stringify(request)}\n`);
    });
    socket.on('data', (chunk: Buffer) => {
      const lines = cutter.push(chunk);
      try {
        if (lines === 'too-long') fail(holder, 'answered without end');
        else for (const line of lines) onAnswer(readAnswer(holder, line));
      } catch (thrown) {
        end(() => reject(thrown));
      }
    });
    // A daemon that is killed in the middle breaks the connection; what it had told is judged by the caller.
    socket.on('error', (cause) =>
      isOpen ? end(resolve) : rejectWith(() => fail(holder, ...cannotConnect(cause), cause)),
    );
    socket.on('close', () => end(resolve));
  });
}

function cannotConnect(cause: NodeJS.ErrnoException): [string, string] {
  if (cause.code === 'EACCES' || cause.code === 'EPERM')
    return ['lets only its own account use its control channel', 'Use the account that the daemon runs under.'];
  return ['has no open control channel', 'It may be starting or stopping: wait a moment, then try again.'];
}

function readAnswer(holder: LockHolder, line: string): Answer {
  try {
    return Answer.parse(JSON.parse(line));
  } catch (cause) {
    return fail(
      holder,
      'gave an answer that makes no sense',
      'Start it again with the same version of tallydock as this one.',
      cause,
    );
  }
}
