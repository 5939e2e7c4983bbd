/** Serial ports that do not exist, with virtual meters that are plugged in and pulled out, in simulated time. */
import type { Fault } from '../../src/core/fault.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import type { TestFacts } from '../../src/virtual/memory.ts';
import type { VirtualMeter } from '../../src/virtual/meter.ts';
import { astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';
import type { SpeakerInput, SpeakerStep } from '../../src/virtual/speaker.ts';
import type { LinkEvents, OpenLink } from '../../src/wire/transport/link.ts';
import type { SeenPort } from '../../src/wire/transport/list-ports.ts';
import { lostFault, serialOpenFault } from '../../src/wire/transport/port-errors.ts';
import type { SimTime } from './sim-time.ts';

/** A meter that can be plugged in anywhere. */
export interface SimMeter {
  step(input: SpeakerInput): SpeakerStep<{ readonly meter: VirtualMeter }>;
  meter(): VirtualMeter;
  /** The port in which it is, if any. */
  where: SimPort | undefined;
}

/** A meter that speaks TLP/1, or E1394 where it is told so. */
export function simMeter(meter: VirtualMeter, protocol: 'line' | 'astm' = 'line'): SimMeter {
  const of = <S extends { readonly meter: VirtualMeter }>(speaker: {
    begin(meter: VirtualMeter): S;
    step(state: S, input: SpeakerInput): SpeakerStep<S>;
  }): SimMeter => {
    let state = speaker.begin(meter);
    return {
      step(input) {
        const next = speaker.step(state, input);
        state = next.state;
        return next;
      },
      meter: () => state.meter,
      where: undefined,
    };
  };
  return protocol === 'line' ? of(lineSpeaker()) : of(astmSpeaker());
}

export interface SimPort {
  readonly path: string;
  /** Puts a meter in, or takes it out of an adapter that stays. */
  insert(meter: SimMeter): void;
  remove(): void;
  /** The meter in it. */
  inside(): SimMeter | undefined;
  /** The adapter is plugged into the PC, or pulled out of it with all that hangs on it. */
  plug(as?: string): void;
  unplug(): void;
  /** Pulls it when the meter has sent this many more bytes. */
  unplugAfter(bytes: number): void;
  /** A test ends on a meter, docked here or not. */
  test(facts: TestFacts): void;
  /** Bytes that no meter sends. */
  noise(data: Uint8Array): void;
  /** The only speed at which its meter is understood; any unless set. */
  baud: number | undefined;
  /** Refuses to be opened, with the system's words. */
  denied: string | undefined;
}

export interface SimPorts {
  readonly open: OpenLink;
  add(name: string, serialNumber?: string): SimPort;
  list(): SeenPort[];
  /** Links that are open now, and openings so far. */
  openLinks(): number;
  openings(): number;
  /** Ports that were opened, by the name that they had then. */
  readonly opened: Set<string>;
}

const BYTE_MS = 1000 / 960;

export function simPorts(time: SimTime): SimPorts {
  const byPath = new Map<string, { open: OpenLink; seen: SeenPort }>();
  const opened = new Set<string>();
  let openLinks = 0;
  let openings = 0;

  const add = (name: string, serialNumber?: string): SimPort => {
    let path = name;
    let isPlugged = false;
    let inside: SimMeter | undefined;
    let listener: LinkEvents | undefined;
    /** Counts up whenever what is under way loses its line. */
    let era = 0;
    let lineFreeAt = 0;
    let untilPull = Number.POSITIVE_INFINITY;
    let cancelWake = (): void => {};
    let isGarbling = false;
    const asHeard = (data: Uint8Array): Uint8Array => (isGarbling ? data.map((byte) => (byte * 7) ^ 0x95) : data);

    const hangUp = (fault?: Fault): void => {
      const to = listener;
      if (!to) return;
      listener = undefined;
      openLinks--;
      era++;
      cancelWake();
      to.closed(fault);
    };
    const feed = (input: SpeakerInput): void => {
      const meter = inside;
      if (!meter) return;
      const { sends, wakeAt } = meter.step(input);
      cancelWake();
      const mine = era;
      if (wakeAt !== undefined) {
        const wait = Math.max(1, wakeAt - time.now());
        cancelWake = time.timers.after(wait, () => {
          if (mine === era && inside === meter) feed({ kind: 'wake', at: time.now() });
        });
      }
      for (const { from, data } of sends) {
        if (!listener) break;
        const startAt: number = Math.max(lineFreeAt, from);
        lineFreeAt = startAt + data.length * BYTE_MS;
        time.timers.after(lineFreeAt - time.now(), () => {
          if (mine === era && inside === meter) deliver(data);
        });
      }
    };
    const deliver = (data: Uint8Array): void => {
      const coming = data.subarray(0, Math.min(data.length, untilPull));
      untilPull -= coming.length;
      if (coming.length > 0) listener?.data(asHeard(coming));
      if (untilPull > 0) return;
      port.unplug();
    };
    const open: OpenLink = async (asked, settings, events) => {
      openings++;
      opened.add(asked);
      if (port.denied !== undefined) throw serialOpenFault(asked, new Error(port.denied), 'linux');
      if (listener) throw serialOpenFault(asked, new Error('Cannot lock port'), 'linux');
      listener = events;
      isGarbling = port.baud !== undefined && port.baud !== settings.baud;
      openLinks++;
      era++;
      lineFreeAt = 0;
      time.timers.after(1, () => feed({ kind: 'opened', at: time.now() }));
      let isOpen = true;
      return {
        port: asked,
        async write(data) {
          if (!isOpen || listener !== events) throw lostFault(asked);
          const mine = era;
          lineFreeAt = Math.max(lineFreeAt, time.now()) + data.length * BYTE_MS;
          time.timers.after(lineFreeAt - time.now(), () => {
            if (mine === era) feed({ kind: 'bytes', at: instant(Math.ceil(time.now())), data: asHeard(data) });
          });
        },
        async close() {
          if (isOpen && listener === events) hangUp();
          isOpen = false;
        },
      };
    };
    const port: SimPort = {
      get path() {
        return path;
      },
      insert(meter) {
        meter.where?.remove();
        port.remove();
        inside = meter;
        meter.where = port;
        era++;
        if (listener) feed({ kind: 'opened', at: time.now() });
      },
      remove() {
        if (inside) inside.where = undefined;
        inside = undefined;
        era++;
        cancelWake();
      },
      inside: () => inside,
      plug(as = path) {
        path = as;
        isPlugged = true;
        byPath.set(path, { open, seen: { path, ...(serialNumber === undefined ? {} : { serialNumber }) } });
      },
      unplug() {
        if (!isPlugged) return;
        isPlugged = false;
        untilPull = Number.POSITIVE_INFINITY;
        byPath.delete(path);
        hangUp(lostFault(path));
      },
      unplugAfter(bytes) {
        untilPull = bytes;
      },
      test: (facts) => feed({ kind: 'test', at: time.now(), facts }),
      noise: (data) => listener?.data(data),
      baud: undefined,
      denied: undefined,
    };
    return port;
  };
  return {
    add,
    opened,
    open: async (asked, settings, events) => {
      const found = byPath.get(asked);
      if (found) return found.open(asked, settings, events);
      openings++;
      opened.add(asked);
      throw serialOpenFault(asked, new Error(`No such file or directory, cannot open ${asked}`), 'linux');
    },
    list: () => [...byPath.values()].map(({ seen }) => seen),
    openLinks: () => openLinks,
    openings: () => openings,
  };
}

/** A moment in the tests' world. */
export const SIM_START: Instant = instant(Date.UTC(2026, 2, 2, 7, 0));
