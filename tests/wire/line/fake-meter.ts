/**
 * A meter for tests, as small as the protocol allows, and a world in which it meets a conversation. Nothing is real:
 * time is a number, the line is a function, and every run gives the same capture.
 */
import type { Capture, CaptureChunk } from '../../../src/core/capture.ts';
import { type Instant, instant } from '../../../src/core/instant.ts';
import { formatWall, parseMeterTime, wall } from '../../../src/core/meter-time.ts';
import { frameBody, parseBody } from '../../../src/wire/line/codec.ts';
import { crcHex } from '../../../src/wire/line/crc16.ts';
import { createLineDecoder } from '../../../src/wire/line/decoder.ts';
import { claimOf } from '../../../src/wire/line/proof.ts';
import type { Talk, TalkEffect, TalkInput, TalkOutcome } from '../../../src/wire/talk.ts';

/** What a REC line says after its slot. */
export type Told = string;

export interface FakeMeter {
  readonly id: string;
  readonly cap: number;
  readonly order: 'newest' | 'oldest' | 'ring';
  /** What lies in each slot. */
  slots: Map<number, Told>;
  next?: number;
  /** Clock minus UTC, in ms; absent where it is not set. */
  clockOffset?: number;
  /** HELLOs that it sleeps through. */
  asleep: number;
  /** Answers instead of the usual one, one for each question with that verb. */
  instead: { verb: string; bodies: string[] }[];
  /** Called for every answered question; may change the meter and returns lines sent unasked, by position in the answer. */
  whileTelling?: (verb: string, position: number) => string[];
  deaf?: boolean;
}

export const fakeMeter = (over: Partial<FakeMeter> = {}): FakeMeter => ({
  id: 'SN00042',
  cap: 50,
  order: 'newest',
  slots: new Map(),
  asleep: 0,
  instead: [],
  ...over,
});

/** `count` tests of Port Alder, the newest first, as one would find them in a `newest` memory. */
export function testsTold(count: number): Told[] {
  return Array.from({ length: count }, (_, i) => {
    const n = count - i;
    const day = new Date(Date.UTC(2026, 0, 1) + n * 86_400_000).toISOString().slice(0, 10);
    return `n=${n} t=${day}T08:${String(n % 60).padStart(2, '0')} k=p a=INR v=${(1.5 + (n % 30) / 10).toFixed(1)} u={INR} a2=PT v2=29.9 u2=s lot=1200003`;
  });
}

/** A memory with these tests in slots 1, 2, 3 … */
export const slotsOf = (told: readonly Told[]): Map<number, Told> => new Map(told.map((t, i) => [i + 1, t]));

/** What the meter says to one line of the host, in bodies. */
function answer(meter: FakeMeter, line: string, at: number): string[] {
  const body = parseBody(line);
  if (!body.ok || meter.deaf) return [];
  const { verb, fields } = body.value;
  if (verb === 'HELLO' && meter.asleep > 0) {
    meter.asleep--;
    return [];
  }
  const instead = meter.instead.find((i) => i.verb === verb);
  if (instead) {
    meter.instead = meter.instead.filter((i) => i !== instead);
    return instead.bodies;
  }
  const clock = (): string => (meter.clockOffset === undefined ? '-' : formatWall(wall(at + meter.clockOffset)));
  switch (verb) {
    case 'HELLO': {
      const next = meter.next === undefined ? '' : ` next=${meter.next}`;
      return [
        `METER v=1 id=${meter.id} model=GM-10 fw=1.0 cap=${meter.cap} held=${meter.slots.size} order=${meter.order}${next} clock=${clock()}`,
      ];
    }
    case 'CLOCK':
      return [`CLOCK t=${clock()}`];
    case 'SET': {
      const asked = parseMeterTime(fields.get('t') ?? '');
      if (!asked.ok) return ['ERR e=syntax'];
      meter.clockOffset = asked.value.wall - at;
      return [`CLOCK t=${clock()}`];
    }
    case 'READ': {
      const from = Number(fields.get('from') ?? 1);
      const to = Number(fields.get('to') ?? meter.cap);
      const said: string[] = [];
      const recs: string[] = [];
      for (let slot = from; slot <= to; slot++) {
        const told = meter.slots.get(slot);
        if (told !== undefined) {
          recs.push(`REC i=${slot} ${told}`);
          said.push(`REC i=${slot} ${told}`);
        }
        said.push(...(meter.whileTelling?.('READ', slot) ?? []));
      }
      const claim = claimOf(recs);
      return [...said, `END n=${claim.count} x=${crcHex(claim.crc)}`];
    }
    case 'BYE':
      return ['BYE'];
    default:
      return ['ERR e=unknown'];
  }
}

/** What happens to bytes on their way; undefined bytes are lost. */
export type Line = (data: Uint8Array, dir: 'in' | 'out') => Uint8Array | undefined;

export interface WorldOptions<S> {
  readonly talk: Talk<S>;
  /** The meter plugged in at a time; undefined for none. */
  readonly meterAt: (at: Instant) => FakeMeter | undefined;
  readonly line?: Line;
  /** Bytes a second, both ways. */
  readonly speed?: number;
  readonly startAt?: Instant;
  /** The cable is pulled once this many bytes have come from the meter. */
  readonly cutAfter?: number;
  /** Somebody stops the conversation at this time after its start. */
  readonly stopAfterMs?: number;
  /** How long storing takes. */
  readonly secureMs?: number;
  readonly maxSteps?: number;
  /** Bytes that come from the port by themselves, at times after the start. */
  readonly unasked?: readonly { readonly afterMs: number; readonly data: Uint8Array }[];
}

export interface WorldResult<S> {
  readonly outcome: TalkOutcome;
  readonly state: S;
  readonly capture: Capture;
  readonly effects: readonly TalkEffect[];
  readonly durationMs: number;
  /** Bytes that crossed the line. */
  readonly bytes: number;
}

export const START = instant(Date.UTC(2026, 2, 2, 10, 14, 56, 250));
const TURN_MS = 1;

/** Lets a conversation run to its end. Throws where it does not come to one. */
export function runTalk<S>(options: WorldOptions<S>): WorldResult<S> {
  const { talk, speed = 960, line = (data) => data } = options;
  let now = options.startAt ?? START;
  const startedAt = now;
  let state = talk.initial;
  let outcome: TalkOutcome | undefined;
  const chunks: CaptureChunk[] = [];
  const effects: TalkEffect[] = [];
  const agenda: { at: Instant; order: number; input: TalkInput; data?: Uint8Array }[] = [];
  let order = 0;
  let timerOrder: number | undefined;
  let received = 0;
  let bytes = 0;
  let lineFreeAt = now as number;
  const heard = createLineDecoder();
  const plan = (at: number, input: (at: Instant) => TalkInput): number => {
    // Kept in order: behind everything that happens no later.
    let i = agenda.length;
    while (i > 0 && (agenda[i - 1]?.at ?? 0) > at) i--;
    agenda.splice(i, 0, { at: instant(at), order: ++order, input: input(instant(at)) });
    return order;
  };
  const carry = (from: number, data: Uint8Array): number => from + (data.length / speed) * 1000;

  plan(now, (at) => ({ kind: 'opened', at }));
  for (const { afterMs, data } of options.unasked ?? []) plan(now + afterMs, (at) => ({ kind: 'bytes', at, data }));
  if (options.stopAfterMs !== undefined) plan(now + options.stopAfterMs, (at) => ({ kind: 'stop', at }));

  for (let steps = 0; outcome === undefined; steps++) {
    if (steps > (options.maxSteps ?? 100_000)) throw new Error('the conversation does not come to an end');
    const event = agenda.shift();
    if (!event) throw new Error('the conversation waits for nothing');
    now = event.at;
    if (event.input.kind === 'timer' && event.order !== timerOrder) continue;
    if (event.input.kind === 'bytes') {
      let { data } = event.input;
      const left = (options.cutAfter ?? Number.POSITIVE_INFINITY) - received;
      if (data.length >= left) {
        data = data.subarray(0, left);
        plan(now, (at) => ({ kind: 'closed', at }));
      }
      received += data.length;
      if (data.length === 0) continue;
      chunks.push({ at: now, dir: 'in', data });
      event.input = { kind: 'bytes', at: now, data };
    }
    const step = talk.step(state, event.input);
    state = step.state;
    for (const effect of step.effects) {
      effects.push(effect);
      if (effect.kind === 'timer') timerOrder = plan(now + effect.afterMs, (at) => ({ kind: 'timer', at }));
      else if (effect.kind === 'timer-off') timerOrder = undefined;
      else if (effect.kind === 'secure') plan(now + (options.secureMs ?? 5), (at) => ({ kind: 'safe', at }));
      else if (effect.kind === 'end') outcome = effect.outcome;
      else if (effect.kind === 'send') {
        chunks.push({ at: now, dir: 'out', data: effect.data });
        bytes += effect.data.length;
        const arrivesAt = carry(now, effect.data);
        const arrived = line(effect.data, 'out');
        const meter = options.meterAt(instant(arrivesAt));
        if (!arrived || !meter) continue;
        lineFreeAt = Math.max(lineFreeAt, arrivesAt + TURN_MS);
        for (const frame of heard.push(arrived)) {
          if (frame.kind !== 'line') continue;
          for (const body of answer(meter, frame.body, lineFreeAt)) {
            const said = frameBody(body);
            lineFreeAt = carry(lineFreeAt, said);
            bytes += said.length;
            const arrivedBack = line(said, 'in');
            if (arrivedBack && options.meterAt(instant(lineFreeAt)) === meter)
              plan(lineFreeAt, (at) => ({ kind: 'bytes', at, data: arrivedBack }));
          }
        }
      }
    }
  }
  const capture: Capture = {
    port: '/dev/ttyUSB0',
    profile: 'tlp-generic',
    zone: 'UTC',
    openedAt: startedAt,
    chunks,
    closedAt: now,
  };
  return { outcome, state, capture, effects, durationMs: now - startedAt, bytes };
}

/** Wall time of a meter whose clock is right in UTC. */
