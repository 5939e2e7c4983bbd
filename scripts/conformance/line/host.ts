/**
 * The host's side of TLP/1 for the checks: it wakes the meter, asks, and writes down every line that ever came, with
 * its faults and its lateness. It does not judge and does not ask twice: on a bench nothing may be lost.
 */
import type { Timing } from '../timing.ts';
import { NoAnswer } from '../verdict.ts';
import type { Wire } from '../wire.ts';
import { type HeardLine, lineOf, readLine, shownAll } from './read-line.ts';

/** A whole memory as it was told: METER before it, the REC lines, and what ended them. */
export interface Image {
  readonly meter: HeardLine;
  readonly records: readonly HeardLine[];
  readonly all: readonly HeardLine[];
  readonly end: HeardLine | undefined;
}

/** What a check may do with the meter. */
export interface LineHost {
  readonly timing: Timing;
  /** Every line heard so far, in order. */
  readonly heard: readonly HeardLine[];
  now(): number;
  /** This computer's wall clock, for a meter whose clock was not set: milliseconds as if it were UTC. */
  readonly wallNow: () => number;
  /** HELLO up to 5 times, once a second. Gives METER; throws NoAnswer where none came. */
  wake(): Promise<HeardLine>;
  /** Asks with a right line and gives the answer: for READ up to END or ERR, else one line. NEW is left out. */
  ask(body: string): Promise<HeardLine[]>;
  /** Sends these bytes (one a character) as they are, to which no answer is due, and gives all that comes. */
  provoke(bytes: string): Promise<HeardLine[]>;
  /** Sends these bytes, in one piece or one by one, and gives the line of answer and all that follows close upon it. */
  askRaw(bytes: string, inPieces: 'whole' | 'one by one'): Promise<HeardLine[]>;
  /** Listens for so long, without a question. Gives everything, NEW too. */
  listen(ms: number): Promise<HeardLine[]>;
  /** Wakes and reads the whole memory. */
  read(): Promise<Image>;
  /** The first whole reading, which several clauses look at. */
  firstImage(): Promise<Image>;
  /** The latest whole reading; the first where there is none yet. */
  lastImage(): Promise<Image>;
}

/** A meter that says more lines than this to one question, or more bytes without an LF, does not stop by itself. */
const MOST_LINES = 200_000;
const MOST_BYTES = 10_000;
/** So many lines are enough to see that an answer of one line is more than that. */
const FEW_LINES = 50;

/** A host on a wire that is open. */
export function createLineHost(wire: Wire, timing: Timing, wallNow: () => number): LineHost {
  const heard: HeardLine[] = [];
  let rest = '';
  let restBeganAt = 0;
  /** When the question, or the line before, had ended. */
  let since = wire.now();
  let first: Image | undefined;
  let last: Image | undefined;

  /** Takes bytes in; gives the lines that they ended. */
  const take = (data: Uint8Array, at: number, isAsked: boolean): HeardLine[] => {
    const lines: HeardLine[] = [];
    for (const byte of data) {
      if (rest === '') restBeganAt = at;
      rest += String.fromCharCode(byte);
      if (byte === 10 || rest.length > MOST_BYTES) lines.push(...finish(at, isAsked));
    }
    return lines;
  };
  const finish = (at: number, isAsked: boolean): HeardLine[] => {
    const line = readLine(rest, at, restBeganAt - since, isAsked);
    rest = '';
    if (!line) return [];
    since = at;
    heard.push(line);
    return [line];
  };

  /** Lines until `isEnd` says so, until nothing came for `silenceMs`, or until there are too many. NEW is left out. */
  const hearUntil = async (
    isEnd: (line: HeardLine) => boolean,
    silenceMs: number,
    most = FEW_LINES,
  ): Promise<HeardLine[]> => {
    const lines: HeardLine[] = [];
    while (lines.length < most) {
      // The question may still be leaving a slow line.
      const chunk = await wire.hear(silenceMs + Math.max(0, since - wire.now()));
      const came = chunk ? take(chunk.data, chunk.at, true) : rest === '' ? [] : finish(wire.now(), true);
      lines.push(...came.filter(({ verb }) => verb !== 'NEW'));
      if (!chunk || came.some(isEnd)) break;
    }
    return lines;
  };
  const listen = async (ms: number, isAsked = false): Promise<HeardLine[]> => {
    const lines: HeardLine[] = [];
    const until = wire.now() + ms;
    for (let left = ms; left > 0 && lines.length < MOST_LINES; left = until - wire.now()) {
      const chunk = await wire.hear(left);
      if (chunk) lines.push(...take(chunk.data, chunk.at, isAsked));
    }
    if (rest !== '') lines.push(...finish(wire.now(), isAsked));
    return lines;
  };
  const send = async (bytes: string): Promise<void> => {
    // What still waits belongs to no question.
    for (let lines = 0; lines < MOST_LINES; ) {
      const chunk = await wire.hear(0);
      if (!chunk) break;
      lines += take(chunk.data, chunk.at, false).length;
    }
    await wire.send(Buffer.from(bytes, 'latin1'));
    since = wire.now() + bytes.length * timing.byteMs;
  };
  const never = (): boolean => false;
  const always = (): boolean => true;

  const ask = async (body: string): Promise<HeardLine[]> => {
    const isRead = body.startsWith('READ');
    const isEnd = isRead ? ({ verb }: HeardLine) => verb === 'END' || verb === 'ERR' : always;
    for (let tries = 1; ; tries++) {
      await send(lineOf(body));
      const lines = await hearUntil(isEnd, timing.patienceMs, isRead ? MOST_LINES : FEW_LINES);
      // A busy meter may be asked three times in all.
      if (tries === 3 || lines.length !== 1 || lines[0]?.keys.get('e') !== 'busy') return lines;
      await listen(timing.helloMs, true);
    }
  };
  const wake = async (): Promise<HeardLine> => {
    const came: HeardLine[] = [];
    for (let tries = 1; tries <= 5; tries++) {
      await send(lineOf('HELLO v=1')).catch(async (thrown: unknown) => {
        // A port that the meter's side closed is opened again, once a try.
        if (!(thrown instanceof NoAnswer)) throw thrown;
        await wire.open();
        await send(lineOf('HELLO v=1'));
      });
      came.push(...(await hearUntil(({ verb }) => verb === 'METER', timing.helloMs)));
      const meter = came.find(({ verb }) => verb === 'METER');
      // A meter that woke late may answer every HELLO.
      if (meter && tries > 1) await listen(timing.answerMs, true);
      if (meter) return meter;
    }
    throw new NoAnswer('METER within 5 HELLO, a second apart', shownAll(came));
  };
  const read = async (): Promise<Image> => {
    const meter = await wake();
    const all = await ask('READ');
    const records = all.filter(({ verb }) => verb === 'REC');
    last = { meter, records, all, end: all.find(({ verb }) => verb === 'END') };
    first ??= last;
    return last;
  };
  return {
    timing,
    heard,
    wallNow,
    now: wire.now,
    wake,
    ask,
    read,
    listen,
    async provoke(bytes) {
      await send(bytes);
      return hearUntil(never, timing.silenceMs);
    },
    async askRaw(bytes, inPieces) {
      const pieces = inPieces === 'whole' ? [bytes] : [...bytes];
      await send(pieces[0] ?? '');
      for (const piece of pieces.slice(1)) await wire.send(Buffer.from(piece, 'latin1'));
      since = wire.now() + bytes.length * timing.byteMs;
      const answer = await hearUntil(always, timing.patienceMs);
      const more = answer.length > 0 ? await hearUntil(never, timing.hushMs) : [];
      return [...answer, ...more];
    },
    firstImage: async () => first ?? read(),
    lastImage: async () => last ?? read(),
  };
}
