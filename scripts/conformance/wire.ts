/**
 * The one seam between the checks and a port: bytes out, bytes in with their moments, and time. The real one is a
 * serial port or a TCP stream; tests hand in a simulated one, whose time costs nothing.
 */
import { Fault } from '../../src/core/fault.ts';
import type { Link, LinkSettings } from '../../src/wire/transport/link.ts';
import { openLink } from '../../src/wire/transport/open-link.ts';
import { NoAnswer } from './verdict.ts';

/** Bytes that came, and when, in milliseconds of `now`. */
export interface Chunk {
  readonly data: Uint8Array;
  readonly at: number;
}

export interface Wire {
  /** Opens the port, afresh where it was open. What came before is forgotten. */
  open(): Promise<void>;
  /** Throws NoAnswer where the port is closed or lost, as `hear` does. */
  send(data: Uint8Array): Promise<void>;
  /** The next bytes, waiting for them this long; undefined where none came. */
  hear(withinMs: number): Promise<Chunk | undefined>;
  /** Milliseconds from any beginning, never going back. */
  now(): number;
  close(): Promise<void>;
}

/** A port as a wire. `open` rejects with a Fault where the port cannot be opened. */
export function portWire(port: string, settings: LinkSettings): Wire {
  let link: Link | undefined;
  let lost: string | undefined;
  let chunks: Chunk[] = [];
  let wake: (() => void) | undefined;
  const now = (): number => performance.now();

  const open = async (): Promise<void> => {
    await link?.close();
    chunks = [];
    lost = undefined;
    link = await openLink(port, settings, {
      data(data) {
        chunks.push({ data: data.slice(), at: now() });
        wake?.();
      },
      closed(fault) {
        if (fault) lost = fault.message;
        wake?.();
      },
    });
  };
  const isLost = (): NoAnswer => new NoAnswer('a line that stays open', lost ?? 'the port is closed');
  return {
    open,
    now,
    async send(data) {
      if (!link || lost !== undefined) throw isLost();
      await link.write(data).catch((thrown: unknown) => {
        if (!(thrown instanceof Fault)) throw thrown;
        lost ??= thrown.message;
        throw isLost();
      });
    },
    async hear(withinMs) {
      if (chunks.length === 0 && lost === undefined) {
        await new Promise<void>((resolve) => {
          const timer = setTimeout(resolve, Math.max(0, withinMs));
          wake = () => {
            clearTimeout(timer);
            resolve();
          };
        });
        wake = undefined;
      }
      const chunk = chunks.shift();
      if (!chunk && lost !== undefined) throw isLost();
      return chunk;
    },
    async close() {
      await link?.close();
      link = undefined;
    },
  };
}
