/**
 * One end of a cable with a virtual meter on it: bytes from the host go to the speaker, what it wants to say leaves
 * at the pace and with the faults asked for. Knows no sockets and no pseudo-terminals; `serve` hands it the far end.
 */
import { type Instant, instant } from '../core/instant.ts';
import type { Chance } from './chance.ts';
import { damage, noise, type PortFaults } from './faults.ts';
import type { TestFacts } from './memory.ts';
import type { VirtualMeter } from './meter.ts';
import { byteMs, createPacer } from './pacing.ts';
import type { Speaker, SpeakerInput } from './speaker.ts';

/** The far end of the cable. */
export interface FarEnd {
  write(data: Uint8Array): void;
  /** True while so much waits unread that a meter that never stops must wait too. */
  isFull(): boolean;
  /** The cable is pulled: nothing more goes or comes. */
  pull(): void;
}

export interface VirtualPort {
  /** A host connected. */
  open(end: FarEnd): void;
  /** Bytes came from the host. */
  receive(data: Uint8Array): void;
  /** The host is gone. */
  shut(): void;
  /** A test ends now, docked or not. */
  test(facts: TestFacts): void;
  /** The meter as it is now. */
  meter(): VirtualMeter;
}

/** A late timer is made good for up to this long; beyond it the machine was busy, and a real line would have paused too. */
const GRACE_MS = 50;

/** Puts a speaker on a port. `now` is true time in milliseconds, fractions welcome. */
export function virtualPort<S extends { readonly meter: VirtualMeter }>(
  speaker: Speaker<S>,
  meter: VirtualMeter,
  faults: PortFaults,
  chance: Chance,
  now: () => Instant,
): VirtualPort {
  const pacer = createPacer(faults.baud);
  const each = byteMs(faults.baud);
  let state = speaker.begin(meter);
  let end: FarEnd | undefined;
  let sendTimer: NodeJS.Timeout | undefined;
  let wakeTimer: NodeJS.Timeout | undefined;
  /** How late the last bytes left, by the fault of our timers. */
  let lateMs = 0;
  let arrivedAt = Number.NEGATIVE_INFINITY;
  let untilPull = faults.pullAfter ?? Number.POSITIVE_INFINITY;
  let lastSaid: Uint8Array | undefined;

  const feed = (input: SpeakerInput): void => {
    const { state: next, sends, wakeAt } = speaker.step(state, input);
    state = next;
    clearTimeout(wakeTimer);
    if (wakeAt !== undefined) {
      wakeTimer = setTimeout(() => feed({ kind: 'wake', at: now() }), Math.max(1, wakeAt - now()));
    }
    if (!end || faults.behaves === 'silent') return;
    for (const { from, data } of sends) {
      if (faults.behaves === 'noisy') pacer.push(from, noise(chance));
      pacer.push(from, data);
      lastSaid = data;
    }
    pump();
  };

  const pump = (): void => {
    clearTimeout(sendTimer);
    if (!end) return;
    const moment = now();
    const { data, leftAt, nextAt } = pacer.take(moment);
    if (data.length > 0) {
      lateMs = Math.min(GRACE_MS, Math.max(0, moment - leftAt));
      if (deliver(data)) return;
    }
    if (nextAt !== undefined) sendTimer = setTimeout(pump, Math.max(0, nextAt - now()));
    else if (faults.behaves === 'endless' && lastSaid) {
      if (!end.isFull()) pacer.push(moment, lastSaid);
      sendTimer = setTimeout(pump, 1);
    }
  };

  /** Hands bytes to the far end; true where the cable was pulled in the middle of them. */
  const deliver = (data: Uint8Array): boolean => {
    const rate = faults.damages === 'to-meter' ? 0 : faults.damageRate;
    const going = damage(chance, rate, data.subarray(0, Math.min(data.length, untilPull)));
    untilPull -= going.length;
    if (going.length > 0) end?.write(going);
    if (untilPull > 0) return false;
    untilPull = Number.POSITIVE_INFINITY;
    const gone = end;
    shut();
    gone?.pull();
    return true;
  };

  const shut = (): void => {
    end = undefined;
    clearTimeout(sendTimer);
    clearTimeout(wakeTimer);
    pacer.clear();
  };

  return {
    open(far) {
      shut();
      end = far;
      lateMs = 0;
      feed({ kind: 'opened', at: now() });
    },
    receive(data) {
      // The host's bytes need their time on the line too; our own lateness before them is not the host's.
      arrivedAt = Math.max(arrivedAt, now() - lateMs) + data.length * each;
      lateMs = 0;
      const rate = faults.damages === 'from-meter' ? 0 : faults.damageRate;
      feed({ kind: 'bytes', at: instant(arrivedAt), data: damage(chance, rate, data) });
    },
    shut,
    test: (facts) => feed({ kind: 'test', at: now(), facts }),
    meter: () => state.meter,
  };
}
