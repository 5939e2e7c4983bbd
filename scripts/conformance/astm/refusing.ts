/**
 * A2: refusals, silences and contention. Section "The meter's side", refusals. One transfer is answered in so many
 * ways, frame by frame, that four clauses can look at it: every transfer may need a key pressed on the meter.
 */
import { type Clause, fails, notApplicable, PASSES, type Verdict } from '../verdict.ts';
import { shownThing } from './calling.ts';
import type { AstmHost, Sending, Transfer } from './host.ts';
import { ACK, ENQ, EOT, NAK, shown } from './read-frame.ts';

const section = "The meter's side: refusals and silences";

/** The answers of the trying transfer, sending by sending. */
const ANSWERS = [ACK, NAK, ACK, 'x', ACK, NAK, NAK, NAK, NAK, NAK, ACK, EOT];
/** Where in them each is tried. */
const AT = { refused: 1, other: 3, often: 5, stopped: 11 };
const TRIES = 6;
const TOO_SHORT = notApplicable(
  'the transfer had ended before this could be tried: make some tests on the meter first',
);

const tried = new WeakMap<AstmHost, Transfer>();

/** The transfer with all these answers; made once. */
async function tryingTransfer(host: AstmHost): Promise<Transfer> {
  const transfer = tried.get(host) ?? (await host.receive(await host.call(), ANSWERS));
  tried.set(host, transfer);
  return transfer;
}

/** Whether the frame that was not accepted at `at` came again, byte for byte, up to `last`. */
function cameAgain({ sendings, end }: Transfer, at: number, last: number): Verdict {
  const refused = sendings[at];
  if (!refused) return TOO_SHORT;
  for (let i = at + 1; i <= last; i++) {
    const again = sendings[i];
    if (again?.frame.bytes === refused.frame.bytes) continue;
    return fails(`the same again: ${shown(refused.frame.bytes)}`, again ? shown(again.frame.bytes) : shownThing(end));
  }
  return PASSES;
}

/** Whether a sending is of the frame behind another's. */
const follows = (before: Sending | undefined, { frame }: Sending): boolean =>
  frame.number === ((before?.frame.number ?? 0) + 1) % 8;

/** Waits for something that ends a silence of the host, and judges what and when. */
async function after(
  host: AstmHost,
  from: number,
  [least, most]: readonly [number, number],
  expected: string,
  byte: string,
): Promise<Verdict> {
  const [lo, hi] = [least - host.timing.slackMs, most + host.timing.slackMs];
  const came = await host.next(hi + host.timing.waitMs);
  const span = `${(least / 1000).toFixed(0)} to ${(most / 1000).toFixed(0)} s`;
  if (!came) return fails(`${expected} after ${span}`, 'nothing');
  const ms = came.at - from;
  const isInTime = ms >= lo && ms <= hi;
  return came.bytes === byte && isInTime
    ? PASSES
    : fails(`${expected} after ${span}`, `${shown(came.bytes)} after ${(ms / 1000).toFixed(1)} s`);
}

export const REFUSING_CLAUSES: readonly Clause<AstmHost>[] = [
  {
    id: 'A2.1',
    section,
    promise: 'A frame that is answered NAK is sent again, byte for byte the same.',
    check: async (host) => cameAgain(await tryingTransfer(host), AT.refused, AT.refused + 1),
  },
  {
    id: 'A2.2',
    section,
    promise: 'Any answer but ACK and EOT counts as NAK.',
    check: async (host) => cameAgain(await tryingTransfer(host), AT.other, AT.other + 1),
  },
  {
    id: 'A2.3',
    section,
    promise: 'A frame is sent up to six times; accepted at the sixth, the next frame follows.',
    async check(host) {
      const transfer = await tryingTransfer(host);
      const verdict = cameAgain(transfer, AT.often, AT.often + TRIES - 1);
      if (verdict.kind !== 'passes') return verdict;
      const [last, next] = [transfer.sendings[AT.stopped - 1], transfer.sendings[AT.stopped]];
      if (!next)
        return transfer.end?.bytes === EOT ? PASSES : fails('the next frame, or EOT', shownThing(transfer.end));
      return follows(last, next)
        ? PASSES
        : fails(`the frame after ${shown(last?.frame.bytes ?? '')}`, shown(next.frame.bytes));
    },
  },
  {
    id: 'A2.4',
    section,
    promise: 'EOT in place of ACK accepts the frame: the next frame follows, or EOT.',
    async check(host) {
      const { sendings, end } = await tryingTransfer(host);
      const [stopped, next] = [sendings[AT.stopped], sendings[AT.stopped + 1]];
      if (!stopped) return TOO_SHORT;
      const isNext = next ? follows(stopped, next) : end?.bytes === EOT;
      return isNext ? PASSES : fails('the next frame, or EOT', next ? shown(next.frame.bytes) : shownThing(end));
    },
  },
  {
    id: 'A2.5',
    section,
    promise: 'A frame that is refused six times ends the transfer with EOT.',
    async check(host) {
      const { sendings, end } = await host.receive(await host.call(), Array(TRIES + 3).fill(NAK));
      const [first] = sendings;
      if (!first) return fails('a frame', shownThing(end));
      const isRight = sendings.length === TRIES && end?.bytes === EOT;
      return isRight ? PASSES : fails(`${TRIES} sendings, then EOT`, `${sendings.length}, then ${shownThing(end)}`);
    },
  },
  {
    id: 'A2.6',
    section,
    promise: 'After a transfer that broke off the next one begins anew: frame 1, the header.',
    async check(host) {
      const { sendings, end } = await host.anotherTransfer();
      const frame = sendings[0]?.frame;
      if (!frame) return fails('a frame', shownThing(end));
      return frame.number === 1 && frame.text.startsWith('H') ? PASSES : fails('frame 1 with H', shown(frame.bytes));
    },
  },
  {
    id: 'A2.7',
    section,
    promise: 'A frame without an answer ends the transfer with EOT after 15 s.',
    async check(host) {
      const { timing } = host;
      await host.call();
      await host.say(ACK);
      let frame = await host.next(timing.frameMs);
      while (frame?.kind === 'noise') frame = await host.next(timing.frameMs); // the business of A1.8
      if (frame?.kind !== 'frame') return fails('a frame', shownThing(frame));
      return after(host, frame.at, [timing.replyMs, timing.replyMs + timing.timerStepMs], 'EOT', EOT);
    },
  },
  {
    id: 'A2.8',
    section,
    promise: 'ENQ without an answer is taken back with EOT after 15 s.',
    async check(host) {
      const { timing } = host;
      const enq = await host.call();
      return after(host, enq.at, [timing.replyMs, timing.replyMs + timing.timerStepMs], 'EOT', EOT);
    },
  },
  {
    id: 'A2.9',
    section,
    promise: 'ENQ that is answered NAK is repeated, after 10 s at the earliest.',
    async check(host) {
      const { timing } = host;
      await host.call();
      await host.say(NAK);
      return after(host, host.now(), [timing.busyMs, timing.busyMs + timing.waitMs], 'ENQ', ENQ);
    },
  },
  {
    id: 'A2.10',
    section,
    promise: 'ENQ that meets ENQ is repeated, after 1 s at the earliest and before the host would after 20 s.',
    async check(host) {
      const { timing } = host;
      await host.call();
      await host.say(ENQ);
      return after(host, host.now(), timing.contentionMs, 'ENQ', ENQ);
    },
  },
];
