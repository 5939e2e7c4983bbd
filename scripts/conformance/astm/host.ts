/**
 * The host's side of E1381 for the checks: it gets the meter to call, answers its frames as a check wants them
 * answered, and writes down everything that came with its moment. It does not judge.
 */
import type { Timing } from '../timing.ts';
import { NoAnswer } from '../verdict.ts';
import type { Chunk, Wire } from '../wire.ts';
import { ACK, ENQ, EOT, frameOf, type HeardFrame, type Said, shown, takeSaid } from './read-frame.ts';

/** Something that came, and when. */
export type Heard = Said & {
  /** When its last byte had come, milliseconds of the wire. */
  readonly at: number;
  /** From the end of what the host said last to its first byte, milliseconds. */
  readonly afterMs: number;
  /** True where it had begun to come before the host said that. */
  readonly isEarly: boolean;
};

/** One sending of a frame, and how it was answered. */
export interface Sending {
  readonly frame: HeardFrame;
  readonly heard: Heard;
  /** What the host answered; empty: nothing. */
  readonly answer: string;
}

/** All that came from one ENQ to its end. */
export interface Transfer {
  readonly enq: Heard;
  readonly sendings: readonly Sending[];
  /** What came between the frames and is none. */
  readonly strays: readonly Heard[];
  /** What ended it: EOT, an ENQ in its midst, or undefined where the meter fell silent. */
  readonly end: Heard | undefined;
}

/** How a meter comes to send: by itself, when the port is opened or a key is pressed on it; or because it is asked. */
export type Sends = 'by itself' | 'when asked';

/** What a check may do with the meter. */
export interface AstmHost {
  readonly timing: Timing;
  readonly sends: Sends;
  /** Everything heard so far, in order. */
  readonly heard: readonly Heard[];
  now(): number;
  /** Says bytes, one a character. */
  say(bytes: string): Promise<void>;
  /** The next thing that comes; undefined where none began within this time. */
  next(withinMs: number): Promise<Heard | undefined>;
  /** Everything that comes in this time. */
  listen(ms: number): Promise<Heard[]>;
  /** Gets the meter to call; its ENQ is still to be answered. Throws NoAnswer where it does not call. */
  call(): Promise<Heard>;
  /** Answers an ENQ with ACK, and the sendings in turn with `answers`; those beyond them with ACK. */
  receive(enq: Heard, answers?: readonly string[]): Promise<Transfer>;
  /** Lets a meter that is calling tell what it has to tell, so that it rests. */
  settle(): Promise<void>;
  /** The first whole transfer, which many clauses look at. */
  firstTransfer(): Promise<Transfer>;
  /** Another whole transfer. */
  anotherTransfer(): Promise<Transfer>;
}

/** What the host asks: all patients, all tests. */
export const QUESTION: readonly string[] = ['H|\\^&|||conformance|||||||P|LIS2-A2\r', 'Q|1|ALL||ALL\r', 'L|1|N\r'];

/** A meter that sends more frames than this in one transfer does not stop by itself. */
const MOST_FRAMES = 200_000;
/** A frame that is longer than this has no end. */
const MOST_BYTES = 200_000;

/** A host on a wire that is open. `notice` is told what a person must do at the meter. */
export function createAstmHost(wire: Wire, timing: Timing, sends: Sends, notice: (text: string) => void): AstmHost {
  const heard: Heard[] = [];
  let rest = '';
  let restBeganAt = 0;
  let restAt = 0;
  /** How much of `rest` had come before the host spoke last. */
  let early = 0;
  /** When the host had last said something. */
  let since = wire.now();
  /** An ENQ that nobody answered, and no EOT since. */
  let open: Heard | undefined;
  let first: Transfer | undefined;

  const take = (isOver: boolean): Heard | undefined => {
    const said = takeSaid(rest, isOver || rest.length > MOST_BYTES);
    if (!said) return undefined;
    rest = rest.slice(said.bytes.length);
    const thing: Heard = { ...said, at: restAt, afterMs: restBeganAt - since, isEarly: early > 0 };
    early = Math.max(0, early - said.bytes.length);
    // What is left came no earlier than the last bytes did.
    restBeganAt = restAt;
    heard.push(thing);
    if (thing.kind === 'control') open = thing.code === 'ENQ' ? thing : thing.code === 'EOT' ? undefined : open;
    return thing;
  };
  const next = async (withinMs: number): Promise<Heard | undefined> => {
    const until = wire.now() + withinMs;
    for (;;) {
      const thing = take(false);
      if (thing) return thing;
      const chunk = await wire.hear(rest === '' ? Math.max(0, until - wire.now()) : timing.gapMs);
      if (!chunk) return take(true);
      gather(chunk);
    }
  };
  const gather = ({ data, at }: Chunk): void => {
    if (rest === '') restBeganAt = at;
    rest += Buffer.from(data).toString('latin1');
    restAt = at;
  };
  const listen = async (ms: number): Promise<Heard[]> => {
    const all: Heard[] = [];
    const until = wire.now() + ms;
    for (let left = ms; left > 0 && all.length < MOST_FRAMES; left = until - wire.now()) {
      const thing = await next(left);
      if (thing) all.push(thing);
    }
    return all;
  };
  const say = async (bytes: string): Promise<void> => {
    open = undefined;
    for (let chunk = await wire.hear(0); chunk && rest.length < MOST_BYTES; chunk = await wire.hear(0)) gather(chunk);
    early = rest.length;
    await wire.send(Buffer.from(bytes, 'latin1'));
    since = wire.now() + bytes.length * timing.byteMs;
  };

  /** Waits for an ENQ that is not taken back at once: what came before the port was opened may have been kept for us. */
  const enqWithin = async (ms: number): Promise<Heard | undefined> => {
    const until = wire.now() + ms;
    for (let left = ms; left >= 0; left = until - wire.now()) {
      const thing = await next(left);
      for (let more: Heard | undefined = thing; more; ) more = await next(0);
      if (open && wire.now() - open.at < timing.promptMs) return open;
      if (!thing) return undefined;
    }
    return undefined;
  };
  const call = async (): Promise<Heard> => {
    const before = heard.length;
    const pending = await enqWithin(0);
    if (pending) return pending;
    if (sends === 'when asked') await ask();
    else {
      await wire.open();
      since = wire.now();
      rest = '';
      open = undefined;
      if (!(await enqWithin(timing.promptMs))) notice('Waiting for the meter: start the transfer on it now.');
    }
    const enq = open ?? (await enqWithin(sends === 'when asked' ? timing.frameMs : timing.waitMs));
    if (enq) return enq;
    const came = heard.slice(before).map(({ bytes }) => bytes);
    throw new NoAnswer('ENQ: the meter calls', came.length > 0 ? shown(came.join('')) : 'nothing');
  };
  /** Asks for the whole memory. Throws NoAnswer where the meter does not take the question. */
  const ask = async (): Promise<void> => {
    await settle();
    for (let tries = 1; ; tries++) {
      await say(ENQ);
      const answer = await next(timing.replyMs);
      if (answer?.bytes === ACK) break;
      if (tries === 2 || !answer) throw new NoAnswer('ACK to ENQ', answer ? shown(answer.bytes) : 'nothing');
      // It calls itself, or is busy: one more try after that.
      if (answer.bytes === ENQ) await enqWithin(timing.contentionMs[1]);
      else await listen(timing.busyMs);
      await settle();
    }
    for (const [i, text] of QUESTION.entries()) {
      await say(frameOf(i + 1, text));
      const answer = await next(timing.replyMs);
      if (answer?.bytes !== ACK) throw new NoAnswer('ACK to a right frame', answer ? shown(answer.bytes) : 'nothing');
    }
    await say(EOT);
  };

  const settle = async (): Promise<void> => {
    if (await enqWithin(0)) await anotherTransfer();
  };
  const receive = async (enq: Heard, answers: readonly string[] = []): Promise<Transfer> => {
    const sendings: Sending[] = [];
    const strays: Heard[] = [];
    await say(ACK);
    while (sendings.length < MOST_FRAMES && strays.length < MOST_FRAMES) {
      // Longer than it may take, so that a late frame is called late.
      const thing = await next(timing.frameMs + timing.patienceMs);
      if (thing?.kind === 'frame') {
        const answer = answers[sendings.length] ?? ACK;
        sendings.push({ frame: thing.frame, heard: thing, answer });
        if (answer !== '') await say(answer);
      } else if (!thing || (thing.kind === 'control' && (thing.code === 'EOT' || thing.code === 'ENQ')))
        return { enq, sendings, strays, end: thing };
      else strays.push(thing);
    }
    return { enq, sendings, strays, end: undefined };
  };
  const anotherTransfer = async (): Promise<Transfer> => receive(await call());
  return {
    timing,
    sends,
    heard,
    now: wire.now,
    say,
    next,
    listen,
    call,
    receive,
    settle,
    anotherTransfer,
    async firstTransfer() {
      first ??= await anotherTransfer();
      return first;
    },
  };
}
