/**
 * One TCP or TLS connection to an MLLP receiver: a message goes out, its acknowledgement comes back. Every failure of
 * the way is a Fault OUTLET_DOWN and ends the connection, so that a late answer is never taken for that of the next.
 */
import { readFileSync } from 'node:fs';
import { connect, isIP, type Socket } from 'node:net';
import { connect as connectTls } from 'node:tls';
import { Fault } from '../../core/fault.ts';
import { type AckVerdict, judgeAcknowledgement } from './acknowledgement.ts';
import { createFrameReader, frame } from './mllp-frame.ts';
import type { Hl7MllpSettings } from './settings.ts';

export interface MllpConnection {
  /** False once either side has closed. */
  isOpen(): boolean;
  /** Sends a message and waits for the answer that names its control id. Rejects with OUTLET_DOWN. */
  ask(text: string, controlId: string, signal: AbortSignal): Promise<Exclude<AckVerdict, { kind: 'other' }>>;
  close(): void;
}

/** Connects. Rejects with OUTLET_DOWN where that does not succeed in time, OUTLET_INVALID where the CA file is missing. */
export async function connectMllp(settings: Hl7MllpSettings, signal: AbortSignal): Promise<MllpConnection> {
  const where = `${settings.host}:${settings.port}`;
  const down = (why: string, cause?: unknown): Fault =>
    new Fault(
      'OUTLET_DOWN',
      `The HL7 receiver ${where} ${why}`,
      'Check the network and the receiver; it is tried again',
      { cause },
    );
  const socket = openSocket(settings);
  const reader = createFrameReader();
  let isOpen = true;
  let failure: Fault | undefined;
  let changed = (): void => {};
  let heard: string[] = [];
  socket.on('data', (chunk: Buffer) => {
    heard.push(...reader.push(chunk));
    changed();
  });
  socket.on('error', (cause) => {
    failure ??= down(`cannot be reached: ${cause.message}`, cause);
  });
  socket.on('close', () => {
    isOpen = false;
    failure ??= down('closed the connection');
    changed();
  });

  /** Waits until `ready` gives something; the connection does not outlive a wait that fails. */
  function wait<T>(ready: () => T | undefined, why: string, stop: AbortSignal): Promise<T> {
    return new Promise((resolve, reject) => {
      const end = (): void => {
        changed = () => {};
        clearTimeout(timer);
        stop.removeEventListener('abort', onStop);
      };
      const fail = (fault: Fault): void => {
        end();
        failure ??= fault;
        isOpen = false;
        socket.destroy();
        reject(fault);
      };
      const onStop = (): void => fail(down('was not waited for: the program stops'));
      const timer = setTimeout(() => fail(down(why)), settings.timeout * 1000);
      stop.addEventListener('abort', onStop);
      changed = () => {
        const found = ready();
        if (found !== undefined) {
          end();
          resolve(found);
        } else if (!isOpen) fail(failure ?? down('closed the connection'));
      };
      if (stop.aborted) onStop();
      else changed();
    });
  }

  let isReady = false;
  socket.on(settings.tls ? 'secureConnect' : 'connect', () => {
    isReady = true;
    changed();
  });
  await wait(() => isReady || undefined, 'did not answer the call in time', signal);
  return {
    isOpen: () => isOpen,
    close: () => void socket.destroy(),
    ask(text, controlId, stop) {
      heard = [];
      socket.write(frame(text));
      const answer = () => {
        for (const message of heard.splice(0)) {
          const verdict = judgeAcknowledgement(message, controlId);
          if (verdict.kind !== 'other') return verdict;
        }
        return undefined;
      };
      return wait(answer, `did not acknowledge ${controlId} in time`, stop);
    },
  };
}

function openSocket(settings: Hl7MllpSettings): Socket {
  const { host, port } = settings;
  if (!settings.tls) return connect({ host, port, noDelay: true });
  const file = settings['ca-file'];
  try {
    return connectTls({
      host,
      port,
      ...(isIP(host) ? {} : { servername: host }),
      ...(file ? { ca: readFileSync(file) } : {}),
    });
  } catch (cause) {
    throw new Fault(
      'OUTLET_INVALID',
      `The certificates in ${file ?? host} cannot be used`,
      'Check the setting ca-file',
      { cause },
    );
  }
}
