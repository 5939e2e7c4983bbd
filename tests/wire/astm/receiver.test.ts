/** The rows of the state table of LIS01-A2 that a receiver takes part in, one by one. */
import { describe, expect, it } from 'vitest';
import { ACK, EOT, NAK } from '../../../src/wire/astm/link-bytes.ts';
import type { LinkEvent } from '../../../src/wire/astm/link-frames.ts';
import { LINK_TIMERS } from '../../../src/wire/astm/link-timers.ts';
import {
  IDLE_RECEIVER,
  type ReceiverEffect,
  type ReceiverState,
  type ReceiverWish,
  stepReceiver,
} from '../../../src/wire/astm/receiver.ts';

const ENQ_IN: LinkEvent = { kind: 'control', code: 'ENQ' };
const EOT_IN: LinkEvent = { kind: 'control', code: 'EOT' };
const frame = (number: number, text = 'P|1\r', last = true): LinkEvent => ({ kind: 'frame', number, text, last });
const BAD: LinkEvent = { kind: 'bad-frame', reason: 'sum' };

const hear = (state: ReceiverState, event: LinkEvent, wish: ReceiverWish = {}) =>
  stepReceiver(state, { kind: 'event', event }, wish);
/** A receiver after an ENQ and some frames. */
const heard = (...events: LinkEvent[]): ReceiverState =>
  [ENQ_IN, ...events].reduce((state, event) => hear(state, event).state, IDLE_RECEIVER);
const sent = (effects: readonly ReceiverEffect[]): number[] =>
  effects.flatMap((effect) => (effect.kind === 'send' ? [...effect.data] : []));
const timer = (effects: readonly ReceiverEffect[]): number | undefined => {
  const found = effects.find((effect) => effect.kind === 'timer');
  return found?.kind === 'timer' ? found.afterMs : undefined;
};
const texts = (effects: readonly ReceiverEffect[]): string[] =>
  effects.flatMap((effect) => (effect.kind === 'text' ? [effect.text] : []));

describe('Idle', () => {
  it('answers ENQ with ACK, expects frame 1 and starts the 30 s timer', () => {
    const { state, effects } = hear(IDLE_RECEIVER, ENQ_IN);
    expect(state).toEqual({ phase: 'receiving', due: 1 });
    expect(sent(effects)).toEqual([ACK]);
    expect(timer(effects)).toBe(30_000);
    expect(effects.map(({ kind }) => kind)).toContain('began');
  });

  it('answers ENQ with NAK while busy and stays idle (Awake, busy)', () => {
    const { state, effects } = hear(IDLE_RECEIVER, ENQ_IN, { isBusy: true });
    expect(state).toEqual(IDLE_RECEIVER);
    expect(sent(effects)).toEqual([NAK]);
  });

  it.each<LinkEvent>([
    frame(1),
    BAD,
    EOT_IN,
    { kind: 'control', code: 'ACK' },
    { kind: 'control', code: 'NAK' },
    { kind: 'noise', bytes: 3 },
  ])('ignores everything else: %j', (event) => {
    expect(hear(IDLE_RECEIVER, event)).toEqual({ state: IDLE_RECEIVER, effects: [] });
  });

  it('ignores a timer that ends late', () => {
    expect(stepReceiver(IDLE_RECEIVER, { kind: 'timer' })).toEqual({ state: IDLE_RECEIVER, effects: [] });
  });
});

describe('RxWait and FrameReceived', () => {
  it('acknowledges the frame that is due, gives its text and restarts the timer', () => {
    const { state, effects } = hear(heard(), frame(1, 'H|x\r', false));
    expect(state).toEqual({ phase: 'receiving', due: 2, last: 1 });
    expect(sent(effects)).toEqual([ACK]);
    expect(timer(effects)).toBe(30_000);
    expect(effects).toContainEqual({ kind: 'text', text: 'H|x\r', isLast: false });
  });

  it('counts 1 to 7, then 0, then 1', () => {
    let state = heard();
    for (const number of [1, 2, 3, 4, 5, 6, 7, 0, 1, 2]) {
      const next = hear(state, frame(number));
      expect(sent(next.effects), `frame ${number}`).toEqual([ACK]);
      state = next.state;
    }
  });

  it('refuses a bad frame with NAK, restarts the timer and still expects the same number', () => {
    const before = heard(frame(1));
    const { state, effects } = hear(before, BAD);
    expect(state).toEqual(before);
    expect(sent(effects)).toEqual([NAK]);
    expect(timer(effects)).toBe(30_000);
  });

  it('refuses a frame out of turn', () => {
    const before = heard(frame(1));
    for (const number of [0, 3, 4, 5, 6, 7]) {
      const { state, effects } = hear(before, frame(number));
      expect(sent(effects), `frame ${number}`).toEqual([NAK]);
      expect(texts(effects)).toEqual([]);
      expect(state).toEqual(before);
    }
  });

  it('acknowledges a repeat of the last frame and does not use it twice', () => {
    const before = heard(frame(1));
    const { state, effects } = hear(before, frame(1));
    expect(sent(effects)).toEqual([ACK]);
    expect(texts(effects)).toEqual([]);
    expect(effects).toContainEqual({ kind: 'unused', why: 'repeat' });
    expect(state).toEqual(before);
  });

  it('refuses frame 0 as the first one: there is no last frame that it could repeat', () => {
    expect(sent(hear(heard(), frame(0)).effects)).toEqual([NAK]);
  });

  it('answers a good frame with EOT when own data waits, and has taken it all the same', () => {
    const { state, effects } = hear(heard(), frame(1), { wantsToSend: true });
    expect(sent(effects)).toEqual([EOT]);
    expect(texts(effects)).toEqual(['P|1\r']);
    expect(state.due).toBe(2);
  });

  it('goes idle on EOT', () => {
    const { state, effects } = hear(heard(frame(1)), EOT_IN);
    expect(state).toEqual(IDLE_RECEIVER);
    expect(effects).toEqual([{ kind: 'timer-off' }, { kind: 'ended', how: 'eot' }]);
  });

  it('goes idle when nothing comes for 30 s', () => {
    const { state, effects } = stepReceiver(heard(frame(1)), { kind: 'timer' });
    expect(state).toEqual(IDLE_RECEIVER);
    expect(effects).toEqual([{ kind: 'ended', how: 'timeout' }]);
  });

  it('ignores ACK, NAK and noise between frames', () => {
    const before = heard(frame(1));
    for (const event of [
      { kind: 'control', code: 'ACK' },
      { kind: 'control', code: 'NAK' },
      { kind: 'noise', bytes: 9 },
    ] as const)
      expect(hear(before, event)).toEqual({ state: before, effects: [] });
  });

  it('begins anew when the sender does, even while busy with it', () => {
    const { state, effects } = hear(heard(frame(1), frame(2)), ENQ_IN, { isBusy: true });
    expect(state).toEqual({ phase: 'receiving', due: 1 });
    expect(sent(effects)).toEqual([ACK]);
    expect(effects.map(({ kind }) => kind)).toContain('began');
  });

  it('takes its waiting time from its options', () => {
    const timers = { ...LINK_TIMERS, frameMs: 70 };
    const { effects } = stepReceiver(IDLE_RECEIVER, { kind: 'event', event: ENQ_IN }, {}, { timers });
    expect(timer(effects)).toBe(70);
  });
});
