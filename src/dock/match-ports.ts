/** Which of the ports that are there belongs to a dock. Pure. Only ports that somebody assigned are ever chosen. */
import type { SeenPort } from '../wire/transport/list-ports.ts';
import { type DockConfig, isOnNetwork } from './config.ts';

/** What a look found for one dock. */
export type PortFound =
  | { readonly kind: 'there'; readonly port: string; readonly seen?: SeenPort }
  | { readonly kind: 'absent' }
  /** More than one port fits, and none of them is surely meant. */
  | { readonly kind: 'unclear'; readonly ports: readonly string[] };

/**
 * The port of a dock. `exists`: names of assigned ports that are there without being listed (links, pseudo-terminals).
 * `before`: where it was found last; of two ports that fit equally that one is kept.
 */
export function matchPort(
  dock: Pick<DockConfig, 'usbSerial' | 'path' | 'port'>,
  seen: readonly SeenPort[],
  exists: ReadonlySet<string>,
  before?: string,
): PortFound {
  const { usbSerial, path, port } = dock;
  if (port !== undefined && isOnNetwork(dock)) return { kind: 'there', port };
  const fitting = seen.filter((candidate) =>
    usbSerial === undefined
      ? candidate.path === (path ?? port) || (path !== undefined && candidate.places?.includes(path))
      : candidate.serialNumber === usbSerial,
  );
  const chosen = fitting.length === 1 ? fitting[0] : fitting.find((candidate) => candidate.path === before);
  if (chosen) return { kind: 'there', port: chosen.path, seen: chosen };
  if (fitting.length > 1) return { kind: 'unclear', ports: fitting.map((candidate) => candidate.path) };
  const name = path ?? port;
  return name !== undefined && exists.has(name) ? { kind: 'there', port: name } : { kind: 'absent' };
}
