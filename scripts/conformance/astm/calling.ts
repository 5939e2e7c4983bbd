/** A1: the meter calls and sends. Section "The meter's side", calling and frames; all of them look at the first transfer. */
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { AstmHost, Heard } from './host.ts';
import { ENQ, EOT, type FrameFault, shown } from './read-frame.ts';

const CALLING = "The meter's side: calling";
const FRAMES = "The meter's side: frames";

/** A thing that came, or that nothing did. */
export const shownThing = (thing: Heard | undefined): string => (thing ? shown(thing.bytes) : 'nothing');

/** A clause about one fault of frames. */
const faultless = (id: string, promise: string, expected: string, kind: FrameFault): Clause<AstmHost> => ({
  id,
  section: FRAMES,
  promise,
  async check(host) {
    for (const { frame } of (await host.firstTransfer()).sendings) {
      const found = frame.faults.find((fault) => fault.kind === kind);
      if (found) return fails(expected, `${shown(frame.bytes)} (${found.says})`);
    }
    return PASSES;
  },
});

export const CALLING_CLAUSES: readonly Clause<AstmHost>[] = [
  {
    id: 'A1.1',
    section: CALLING,
    promise: 'The meter calls with ENQ, sends frames when it is answered ACK, and ends with EOT.',
    async check(host) {
      const { sendings, end } = await host.firstTransfer();
      if (sendings.length === 0) return fails('a frame after ACK', shownThing(end));
      return end?.bytes === EOT ? PASSES : fails(`EOT after ${sendings.length} frames`, shownThing(end));
    },
  },
  faultless(
    'A1.2',
    'Every frame is STX, number, text, ETX or ETB, sum, CR, LF.',
    'STX number text ETX sum CR LF',
    'form',
  ),
  faultless('A1.3', 'Every frame has the right sum.', 'the sum from the number to ETX or ETB', 'sum'),
  faultless('A1.4', 'No text is longer than 64,000 bytes.', '64,000 bytes at most', 'length'),
  faultless(
    'A1.5',
    'No restricted character stands in a text.',
    'none of SOH STX ETX EOT ENQ ACK LF DLE DC1-4 NAK SYN ETB',
    'byte',
  ),
  {
    id: 'A1.6',
    section: FRAMES,
    promise: 'The first frame has the number 1, each further one the next; 0 follows 7.',
    async check(host) {
      const { sendings } = await host.firstTransfer();
      const wrong = sendings.findIndex(({ frame }, i) => frame.number !== (i + 1) % 8);
      const sending = sendings[wrong];
      return sending
        ? fails(`frame ${wrong + 1} with the number ${(wrong + 1) % 8}`, shown(sending.frame.bytes))
        : PASSES;
    },
  },
  {
    id: 'A1.7',
    section: FRAMES,
    promise: 'Every record begins a frame and ends with CR before ETX; ETB ends a frame only within a record.',
    async check(host) {
      const { sendings } = await host.firstTransfer();
      for (const { frame } of sendings) {
        if (frame.isLast === undefined) continue; // the business of A1.2
        const isRight = frame.isLast ? /^[^\r]*\r$/.test(frame.text) : /^[^\r]+$/.test(frame.text);
        if (!isRight)
          return fails(frame.isLast ? 'one record up to CR and ETX' : 'no CR before ETB', shown(frame.bytes));
      }
      return PASSES;
    },
  },
  {
    id: 'A1.8',
    section: FRAMES,
    promise: 'Every frame waits for the answer to the one before, and nothing else comes between them.',
    async check(host) {
      const { sendings, strays } = await host.firstTransfer();
      const [stray] = strays;
      if (stray) return fails('frames and EOT only', shown(stray.bytes));
      const early = sendings.find(({ heard }) => heard.isEarly);
      return early ? fails('silence until the frame before it is answered', shown(early.frame.bytes)) : PASSES;
    },
  },
  {
    id: 'A1.9',
    section: CALLING,
    promise: 'A frame, or EOT, comes within 30 s of the answer to the frame before.',
    async check(host) {
      const { sendings, end } = await host.firstTransfer();
      const all = [...sendings.map(({ heard }) => heard), ...(end ? [end] : [])];
      const late = all.find(({ afterMs }) => afterMs > host.timing.frameMs + host.timing.slackMs);
      if (late) return fails('30 s at most', `after ${(late.afterMs / 1000).toFixed(1)} s: ${shown(late.bytes)}`);
      return end ? PASSES : fails('a frame or EOT', 'nothing for 30 s');
    },
  },
  {
    id: 'A1.10',
    section: CALLING,
    promise: 'After EOT the meter is silent, unless it calls again.',
    async check(host) {
      const transfer = await host.anotherTransfer();
      if (transfer.end?.bytes !== EOT) return notApplicable('no EOT came: see A1.1');
      const came = (await host.listen(host.timing.hushMs)).find(({ bytes }) => bytes !== ENQ && bytes !== EOT);
      return came ? fails('silence, or ENQ', shown(came.bytes)) : PASSES;
    },
  },
];
