/**
 * The one narrow seam to a port. Serial ports and device servers on the network look the same from here; the rest of the
 * program never sees a port library.
 */
import type { Fault } from '../../core/fault.ts';

/** What a link tells while it is open. `closed` comes exactly once, last; `fault` says why if it was not asked for. */
export interface LinkEvents {
  data(chunk: Uint8Array): void;
  closed(fault?: Fault): void;
}

export interface Link {
  /** As the person named it: `/dev/ttyUSB0`, `COM3`, `tcp://host:port`. */
  readonly port: string;
  /** Resolves when the bytes have been handed to the port; rejects with a Fault after its own deadline or when the port is gone. */
  write(data: Uint8Array): Promise<void>;
  /** Resolves when the port is closed, after its own deadline at the latest. Never rejects. */
  close(): Promise<void>;
}

export interface LinkSettings {
  readonly baud: number;
  /** Serial ports only; 8 data bits, no parity and 1 stop bit where absent. */
  readonly dataBits?: 7 | 8;
  readonly parity?: 'none' | 'even' | 'odd';
  readonly stopBits?: 1 | 2;
  readonly openMs: number;
  readonly writeMs: number;
  readonly closeMs: number;
}

/** What a port is opened with unless a profile or the person says otherwise. */
export const LINK_DEFAULTS: LinkSettings = { baud: 9600, openMs: 5000, writeMs: 2000, closeMs: 2000 };

/** Opens a port with its own deadline. Rejects with a Fault (PORT_MISSING, PORT_BUSY, PORT_DENIED, PORT_NOT_SERIAL, PORT_FAILED). */
export type OpenLink = (port: string, settings: LinkSettings, events: LinkEvents) => Promise<Link>;
