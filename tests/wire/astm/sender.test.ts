/** The rows of the state table of LIS01-A2 that a sender takes part in, one by one. */
import { describe, expect, it } from 'vitest';
import { encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { ACK, ENQ, EOT, NAK } from '../../../src/wire/astm/link-bytes.ts';
import { LINK_TIMERS } from '../../../src/wire/astm/link-timers.ts';
import {
  createSender,
  type SenderEffect,
  type SenderInput,
  type SenderOptions,
  type SenderState,
  stepSender,
} from '../../../src/wire/astm/sender.ts';

const FRAMES = encodeMessage(['H|x', 'L|1|N']);
const COMPUTER: SenderOptions = { role: 'computer' };
const START: SenderInput = { kind: 'start' };
const TIMER: SenderInput = { kind: 'timer' };
const byte = (value: number): SenderInput => ({ kind: 'byte', byte: value });

function run(inputs: readonly SenderInput[], options = COMPUTER, frames = FRAMES) {
  let state: SenderState = createSender(frames);
  let effects: readonly SenderEffect[] = [];
  for (const input of inputs) ({ state, effects } = stepSender(state, input, options));
  return { state, effects };
}
const sent = (effects: readonly SenderEffect[]): Uint8Array[] =>
  effects.flatMap((effect) => (effect.kind === 'send' ? [effect.data] : []));
const timer = (effects: readonly SenderEffect[]): number | undefined => {
  const found = effects.find((effect) => effect.kind === 'timer');
  return found?.kind === 'timer' ? found.afterMs : undefined;
};
const isOver = (effects: readonly SenderEffect[]): string | undefined => {
  const found = effects.find((effect) => effect.kind === 'ended');
  return found?.kind === 'ended' ? found.outcome : undefined;
};

describe('DataToSend and TxEnq', () => {
  it('sends ENQ and waits 15 s', () => {
    const { state, effects } = run([START]);
    expect(sent(effects)).toEqual([Uint8Array.of(ENQ)]);
    expect(timer(effects)).toBe(15_000);
    expect(state.phase).toBe('enquiring');
  });

  it('sends frame 1 on ACK and waits 15 s', () => {
    const { effects } = run([START, byte(ACK)]);
    expect(sent(effects)).toEqual([FRAMES[0]]);
    expect(timer(effects)).toBe(15_000);
  });

  it('sends EOT when no answer comes', () => {
    const { effects } = run([START, TIMER]);
    expect(sent(effects)).toEqual([Uint8Array.of(EOT)]);
    expect(isOver(effects)).toBe('no-answer');
  });

  it('waits 10 s after NAK, then sends ENQ again', () => {
    expect(timer(run([START, byte(NAK)]).effects)).toBe(10_000);
    expect(sent(run([START, byte(NAK), TIMER]).effects)).toEqual([Uint8Array.of(ENQ)]);
  });

  it('waits 1 s as instrument and 20 s as computer when ENQ meets ENQ, then sends ENQ again', () => {
    expect(timer(run([START, byte(ENQ)], { role: 'instrument' }).effects)).toBe(1000);
    expect(timer(run([START, byte(ENQ)], COMPUTER).effects)).toBe(20_000);
    expect(sent(run([START, byte(ENQ)], COMPUTER).effects)).toEqual([]);
    expect(sent(run([START, byte(ENQ), TIMER]).effects)).toEqual([Uint8Array.of(ENQ)]);
  });

  it('yields to an ENQ that comes while it waits: the instrument has priority', () => {
    const { effects } = run([START, byte(ENQ), byte(ENQ)]);
    expect(isOver(effects)).toBe('yielded');
    expect(sent(effects)).toEqual([]);
  });

  it('ignores what is no answer while it waits for one', () => {
    for (const value of [0x00, 0x41, EOT]) {
      const { state, effects } = run([START, byte(value)]);
      expect(effects).toEqual([]);
      expect(state.phase).toBe('enquiring');
    }
  });

  it('gives up a receiver that stays busy', () => {
    const inputs = Array.from({ length: 3 }, () => [byte(NAK), TIMER]).flat();
    const options: SenderOptions = { role: 'instrument', enquiries: 3 };
    expect(isOver(run([START, ...inputs.slice(0, 5)], options).effects)).toBe('busy');
  });
});

describe('NextFrame, TxWait and OldFrame', () => {
  it('sends the next frame on ACK, and EOT after the last', () => {
    const second = run([START, byte(ACK), byte(ACK)]);
    expect(sent(second.effects)).toEqual([FRAMES[1]]);
    expect(second.effects[0]).toEqual({ kind: 'accepted', index: 0 });
    const end = run([START, byte(ACK), byte(ACK), byte(ACK)]);
    expect(sent(end.effects)).toEqual([Uint8Array.of(EOT)]);
    expect(isOver(end.effects)).toBe('delivered');
  });

  it.each([NAK, ENQ, 0x00, 0x41, 0xff])(
    'sends the same frame again on %d: anything but ACK and EOT counts as NAK',
    (value) => {
      const { state, effects } = run([START, byte(ACK), byte(value)]);
      expect(sent(effects)).toEqual([FRAMES[0]]);
      expect(timer(effects)).toBe(15_000);
      expect(state.tries).toBe(2);
    },
  );

  it('sends one frame six times at most, then EOT', () => {
    const refusals = (count: number): SenderInput[] => Array.from({ length: count }, () => byte(NAK));
    const fifth = run([START, byte(ACK), ...refusals(5)]);
    expect(sent(fifth.effects)).toEqual([FRAMES[0]]);
    expect(fifth.state.tries).toBe(6);
    const sixth = run([START, byte(ACK), ...refusals(6)]);
    expect(sent(sixth.effects)).toEqual([Uint8Array.of(EOT)]);
    expect(isOver(sixth.effects)).toBe('refused');
  });

  it('counts the refusals of each frame for itself', () => {
    const inputs = [START, byte(ACK), ...Array.from({ length: 5 }, () => byte(NAK)), byte(ACK), byte(NAK)];
    const { state, effects } = run(inputs);
    expect(sent(effects)).toEqual([FRAMES[1]]);
    expect(state.tries).toBe(2);
  });

  it('sends EOT when no answer comes to a frame', () => {
    const { effects } = run([START, byte(ACK), TIMER]);
    expect(sent(effects)).toEqual([Uint8Array.of(EOT)]);
    expect(isOver(effects)).toBe('no-answer');
  });
});

describe('Interrupt', () => {
  it('is ignored unless the sender honours it: EOT counts as ACK', () => {
    const { effects } = run([START, byte(ACK), byte(EOT)]);
    expect(sent(effects)).toEqual([FRAMES[1]]);
  });

  it('ends the sending where it is honoured; the frame before it was accepted', () => {
    const { effects } = run([START, byte(ACK), byte(EOT)], { role: 'instrument', honoursInterrupt: true });
    expect(effects[0]).toEqual({ kind: 'accepted', index: 0 });
    expect(sent(effects)).toEqual([Uint8Array.of(EOT)]);
    expect(isOver(effects)).toBe('interrupted');
  });

  it('after the last frame means that all was delivered', () => {
    const options: SenderOptions = { role: 'instrument', honoursInterrupt: true };
    expect(isOver(run([START, byte(ACK), byte(ACK), byte(EOT)], options).effects)).toBe('delivered');
  });
});

describe('a sender', () => {
  it('does nothing before the start and nothing after the end', () => {
    expect(run([byte(ACK), TIMER]).effects).toEqual([]);
    expect(run([START, TIMER, byte(ACK), byte(NAK), TIMER, START]).effects).toEqual([]);
  });

  it('takes its waiting times from its options', () => {
    const timers = { ...LINK_TIMERS, answerMs: 7 };
    expect(timer(run([START], { role: 'computer', timers }).effects)).toBe(7);
  });
});
