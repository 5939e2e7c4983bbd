/** Our sender against our receiver over a line that damages bytes, in simulated time: exactly what was sent arrives, once. */
import { describe, expect, it } from 'vitest';
import { encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { createFrameDecoder } from '../../../src/wire/astm/link-frames.ts';
import { IDLE_RECEIVER, type ReceiverState, stepReceiver } from '../../../src/wire/astm/receiver.ts';
import { createSender, type SenderInput, type SenderState, stepSender } from '../../../src/wire/astm/sender.ts';
import { numbersFrom } from '../../support/numbers.ts';

const SEED = Number(process.env['SEED'] ?? 20260304);

interface Crossing {
  readonly outcome: string | undefined;
  /** The record texts of the last transfer, whole ones only. */
  readonly records: readonly string[];
  readonly refused: number;
}

/** Sends a message over a line on which each byte is damaged with a probability, both ways. */
function cross(frames: readonly Uint8Array[], damage: number, next: () => number): Crossing {
  const decoder = createFrameDecoder();
  let sender: SenderState = createSender(frames);
  let receiver: ReceiverState = IDLE_RECEIVER;
  let senderTimer = false;
  let records: string[] = [];
  let rest = '';
  let refused = 0;
  const toReceiver: Uint8Array[] = [];
  const toSender: number[] = [];
  const damaged = (data: Uint8Array): Uint8Array =>
    data.map((byte) => (next() < damage ? Math.floor(next() * 256) : byte));

  const send = (input: SenderInput): void => {
    const step = stepSender(sender, input, { role: 'instrument' });
    sender = step.state;
    for (const effect of step.effects) {
      if (effect.kind === 'send') toReceiver.push(damaged(effect.data));
      else if (effect.kind === 'timer') senderTimer = true;
      else if (effect.kind === 'timer-off') senderTimer = false;
    }
  };
  const receive = (data: Uint8Array): void => {
    for (const event of decoder.push(data)) {
      const step = stepReceiver(receiver, { kind: 'event', event });
      receiver = step.state;
      for (const effect of step.effects) {
        if (effect.kind === 'send') toSender.push(...damaged(effect.data));
        else if (effect.kind === 'unused' && effect.why === 'refused') refused++;
        else if (effect.kind === 'began') {
          records = [];
          rest = '';
        } else if (effect.kind === 'text') {
          rest += effect.text;
          if (effect.isLast) {
            records.push(rest);
            rest = '';
          }
        }
      }
    }
  };

  send({ kind: 'start' });
  for (let turn = 0; sender.phase !== 'done' && turn < 100_000; turn++) {
    const data = toReceiver.shift();
    const byte = data ? undefined : toSender.shift();
    if (data) {
      // Handed over in pieces, as a port does.
      const cut = Math.floor(next() * (data.length + 1));
      receive(data.subarray(0, cut));
      receive(data.subarray(cut));
    } else if (byte !== undefined) send({ kind: 'byte', byte });
    else if (senderTimer) send({ kind: 'timer' });
    else throw new Error('nobody has anything to do');
  }
  for (const data of toReceiver) receive(data);
  return { outcome: sender.outcome, records, refused };
}

const TEXTS = Array.from({ length: 60 }, (_, i) =>
  i % 7 === 0 ? `C|${i}|I|${`comment ${i} `.repeat(40)}|G` : `R|${i}|^^^INR|${(1 + i / 20).toFixed(1)}|{INR}||||F`,
);
const EXPECTED = TEXTS.map((text) => `${text}\r`);

describe('over a line', () => {
  it('without damage every record arrives, with no refusal', () => {
    const { outcome, records, refused } = cross(encodeMessage(TEXTS), 0, numbersFrom(SEED));
    expect(outcome).toBe('delivered');
    expect(records).toEqual(EXPECTED);
    expect(refused).toBe(0);
  });

  it(`that damages bytes both ways a delivered message is exactly what was sent (SEED=${SEED})`, () => {
    const next = numbersFrom(SEED);
    const frames = encodeMessage(TEXTS);
    let delivered = 0;
    let refusals = 0;
    for (let round = 0; round < 400; round++) {
      const { outcome, records, refused } = cross(frames, 1 / 2000, next);
      refusals += refused;
      // What arrived is the beginning of what was sent, in order and once, however the transfer ended.
      expect(records, `round ${round}`).toEqual(EXPECTED.slice(0, records.length));
      if (outcome !== 'delivered') continue;
      delivered++;
      expect(records.length, `round ${round}`).toBe(EXPECTED.length);
    }
    expect(refusals).toBeGreaterThan(400);
    expect(delivered).toBeGreaterThan(300);
  });

  it(`that damages every tenth byte nothing wrong is taken for right in a short message (SEED=${SEED})`, () => {
    const next = numbersFrom(SEED + 1);
    const texts = ['H|\\^&|||GM-20^SN1', 'L|1|N'];
    let sent = 0;
    let wrong = 0;
    for (let round = 0; round < 2000; round++) {
      const { records } = cross(encodeMessage(texts), 1 / 10, next);
      sent += records.length;
      wrong += records.filter((record, i) => record !== `${texts[i]}\r`).length;
    }
    // The sum is one byte: of frames with several damaged bytes about 1 in 256 passes, as protocols/astm says.
    expect(sent).toBeGreaterThan(500);
    expect(wrong / sent).toBeLessThan(1 / 20);
  });
});
