/** Holds an E1394 conversation in simulated time with a meter that is a function of bytes and timers. */
import type { Capture, CaptureChunk } from '../../../src/core/capture.ts';
import { instant } from '../../../src/core/instant.ts';
import { type AstmState, type AstmTalkOptions, astmTalk } from '../../../src/wire/astm/conversation.ts';
import { encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { createFrameDecoder } from '../../../src/wire/astm/link-frames.ts';
import { LINK_TIMERS } from '../../../src/wire/astm/link-timers.ts';
import { IDLE_RECEIVER, stepReceiver } from '../../../src/wire/astm/receiver.ts';
import { createSender, type SenderInput, stepSender } from '../../../src/wire/astm/sender.ts';
import type { TalkEffect, TalkInput, TalkOutcome, TalkProgress } from '../../../src/wire/talk.ts';
import { START_AT } from './told.ts';

/** What a meter does: it sends bytes at once, or wants to be woken. */
export interface Desk {
  send(data: Uint8Array): void;
  wakeAfter(ms: number): void;
}
export interface FakeMeter {
  opened?(desk: Desk): void;
  heard?(data: Uint8Array, desk: Desk): void;
  woken?(desk: Desk): void;
}

export interface Held {
  readonly outcome: TalkOutcome;
  readonly capture: Capture;
  readonly progress: readonly TalkProgress[];
  readonly effects: readonly TalkEffect[];
  /** How long it took, in simulated milliseconds. */
  readonly tookMs: number;
  readonly state: AstmState;
}

/** Something that happens at a time, besides what the meter does. */
export interface Happening {
  readonly afterMs: number;
  readonly input: { readonly kind: 'stop' } | { readonly kind: 'closed' };
}

/** Talks until the end. Throws where a conversation goes on for more than a simulated day or needs too many steps. */
export function hold(options: AstmTalkOptions, meter: FakeMeter, happenings: readonly Happening[] = []): Held {
  const talk = astmTalk(options);
  let state = talk.initial;
  let now = START_AT;
  let outcome: TalkOutcome | undefined;
  const chunks: CaptureChunk[] = [];
  const progress: TalkProgress[] = [];
  const effects: TalkEffect[] = [];
  type Event = {
    at: number;
    what: 'meter' | 'wake' | 'timer' | 'safe' | 'other';
    input?: TalkInput;
    data?: Uint8Array;
  };
  let events: Event[] = happenings.map(({ afterMs, input }) => ({
    at: now + afterMs,
    what: 'other',
    input: { ...input, at: instant(now + afterMs) },
  }));
  const desk: Desk = {
    send: (data) => events.push({ at: now + 1, what: 'meter', data }),
    wakeAfter(ms) {
      events = events.filter(({ what }) => what !== 'wake');
      events.push({ at: now + ms, what: 'wake' });
    },
  };
  const give = (input: TalkInput): void => {
    if (input.kind === 'bytes') chunks.push({ at: input.at, dir: 'in', data: input.data });
    const step = talk.step(state, input);
    state = step.state;
    for (const effect of step.effects) {
      effects.push(effect);
      switch (effect.kind) {
        case 'send':
          chunks.push({ at: instant(now), dir: 'out', data: effect.data });
          meter.heard?.(effect.data, desk);
          break;
        case 'timer':
        case 'timer-off':
          events = events.filter(({ what }) => what !== 'timer');
          if (effect.kind === 'timer') events.push({ at: now + effect.afterMs, what: 'timer' });
          break;
        case 'progress':
          progress.push(effect.progress);
          break;
        case 'secure':
          events.push({ at: now + 2, what: 'safe' });
          break;
        case 'end':
          outcome = effect.outcome;
      }
    }
  };
  give({ kind: 'opened', at: instant(now) });
  meter.opened?.(desk);
  for (let turn = 0; outcome === undefined; turn++) {
    const next = events.reduce<Event | undefined>(
      (first, event) => (!first || event.at < first.at ? event : first),
      undefined,
    );
    if (!next || turn > 200_000 || next.at > START_AT + 86_400_000) throw new Error(`stuck in ${state.stage}`);
    events = events.filter((event) => event !== next);
    now = next.at;
    const at = instant(now);
    if (next.what === 'meter') give({ kind: 'bytes', at, data: next.data ?? new Uint8Array() });
    else if (next.what === 'wake') meter.woken?.(desk);
    else if (next.what === 'timer') give({ kind: 'timer', at });
    else if (next.what === 'safe') give({ kind: 'safe', at });
    else if (next.input) give(next.input);
  }
  const capture: Capture = {
    port: 'tcp://dock:4002',
    profile: options.profile.name,
    zone: 'Europe/Lisbon',
    openedAt: instant(START_AT),
    chunks,
    closedAt: instant(now),
  };
  return { outcome, capture, progress, effects, tookMs: now - START_AT, state };
}

/** How a fake meter sends. */
export interface SendingHabits {
  /** Before the first message, and between messages. */
  readonly pauseMs?: number;
  /** Changes what goes over the line: the bytes of one frame or control character. Nothing: they are lost. */
  readonly spoil?: (data: Uint8Array, count: number) => Uint8Array | undefined;
}

/** A meter that sends these messages by itself, one after the other, each until it is delivered or given up. */
export function sendingMeter(messages: readonly (readonly string[])[], habits: SendingHabits = {}): FakeMeter {
  const waiting = [...messages];
  let sender = createSender([]);
  let count = 0;
  const act = (input: SenderInput, desk: Desk): void => {
    const step = stepSender(sender, input, { role: 'instrument', honoursInterrupt: true });
    sender = step.state;
    for (const effect of step.effects) {
      if (effect.kind === 'send') {
        count++;
        const data = habits.spoil ? habits.spoil(effect.data, count) : effect.data;
        if (data) desk.send(data);
      } else if (effect.kind === 'timer') desk.wakeAfter(effect.afterMs);
      else if (effect.kind === 'ended' && waiting.length > 0) desk.wakeAfter(habits.pauseMs ?? 1000);
    }
  };
  return {
    opened: (desk) => desk.wakeAfter(habits.pauseMs ?? 1000),
    heard: (data, desk) => {
      for (const byte of data) act({ kind: 'byte', byte }, desk);
    },
    woken: (desk) => {
      if (sender.phase !== 'idle' && sender.phase !== 'done') act({ kind: 'timer' }, desk);
      else {
        const message = waiting.shift();
        if (!message) return;
        sender = createSender(encodeMessage(message));
        act({ kind: 'start' }, desk);
      }
    },
  };
}

/** A meter that waits to be asked and answers the nth question with the nth message. `asleepFor` ENQs go unheard. */
export function askedMeter(
  messages: readonly (readonly string[])[],
  asleepFor = 0,
): FakeMeter & { readonly questions: string[] } {
  const decoder = createFrameDecoder();
  let receiver = IDLE_RECEIVER;
  let question = '';
  const questions: string[] = [];
  let sending: FakeMeter | undefined;
  let asleep = asleepFor;
  return {
    questions,
    heard(data, desk) {
      if (sending) return sending.heard?.(data, desk);
      for (const event of decoder.push(data)) {
        if (asleep > 0) {
          if (event.kind === 'control' && event.code === 'ENQ') asleep--;
          continue;
        }
        const step = stepReceiver(receiver, { kind: 'event', event }, {}, { timers: LINK_TIMERS });
        receiver = step.state;
        for (const effect of step.effects) {
          if (effect.kind === 'send') desk.send(effect.data);
          else if (effect.kind === 'text') question += effect.text;
          else if (effect.kind === 'ended') {
            const message = messages[questions.length];
            questions.push(question);
            question = '';
            if (!message) continue;
            const sender = sendingMeter([message]);
            sending = {
              ...sender,
              heard: (reply, to) => {
                sender.heard?.(reply, to);
                // Our sender sends EOT on the last answer; then it listens again.
                if (--answersLeft === 0) sending = undefined;
              },
            };
            let answersLeft = encodeMessage(message).length + 1;
            sender.opened?.(desk);
          }
        }
      }
    },
    woken: (desk) => sending?.woken?.(desk),
  };
}
