/**
 * A6 and A7: the meter as the receiver. It is asked for its memory, where it is said to answer questions, and must not
 * be moved by what is no question. Section "The meter's side", being asked.
 */
import { type Clause, fails, notApplicable, PASSES, type Verdict } from '../verdict.ts';
import { shownThing } from './calling.ts';
import { type AstmHost, QUESTION, type Transfer } from './host.ts';
import { messageOf } from './message.ts';
import { ACK, ENQ, EOT, ETB, frameOf, NAK, shown } from './read-frame.ts';

const section = "The meter's side: being asked";
const NOT_ASKED = notApplicable('the meter is not said to answer questions: give --query where it does');
const [HEADER = '', QUERY = '', END = ''] = QUESTION;

/** Something said while a question is asked, and the answer that is due. */
interface Line {
  readonly says: string;
  readonly due: string;
}

const frames = (...texts: readonly string[]): Line[] =>
  texts.map((text, i) => ({ says: frameOf(i + 1, text), due: ACK }));

/** Asks in these frames; a verdict where an answer is not the one that is due. */
async function say(host: AstmHost, lines: readonly Line[]): Promise<Verdict> {
  await host.settle();
  for (const { says, due } of [{ says: ENQ, due: ACK }, ...lines]) {
    await host.say(says);
    const answer = await host.next(host.timing.replyMs);
    if (answer?.bytes === due) continue;
    await host.say(EOT);
    return fails(`${shown(due)} to ${shown(says)}`, shownThing(answer));
  }
  return PASSES;
}

/** Takes what the meter sends after a question; undefined where it does not call. */
async function takeAnswer(host: AstmHost): Promise<Transfer | undefined> {
  await host.say(EOT);
  const enq = await host.next(host.timing.frameMs);
  return enq?.bytes === ENQ ? host.receive(enq) : undefined;
}

/** The records of a transfer but for header and terminator, as one text. */
const told = (transfer: Transfer): string =>
  messageOf(transfer)
    .records.filter(({ type }) => type !== 'H' && type !== 'L')
    .map(({ text }) => text)
    .join('\r');

/** A clause for which the meter is asked in these frames and must then send what it always sends. */
const asked = (id: string, promise: string, lines: readonly Line[]): Clause<AstmHost> => ({
  id,
  section,
  promise,
  async check(host) {
    if (host.sends !== 'when asked') return NOT_ASKED;
    const first = told(await host.firstTransfer());
    const verdict = await say(host, lines);
    if (verdict.kind !== 'passes') return verdict;
    const answer = await takeAnswer(host);
    if (!answer) return fails('ENQ after the question', 'no ENQ');
    return told(answer) === first ? PASSES : fails('the whole memory, as in the first transfer', shown(told(answer)));
  },
});

const wrongSum = frameOf(2, QUERY).replace(/..\r\n$/, (end) => (end.startsWith('00') ? `01\r\n` : `00\r\n`));

export const ASKING_CLAUSES: readonly Clause<AstmHost>[] = [
  asked(
    'A6.1',
    'ENQ and right frames are answered ACK; after EOT the meter sends its memory.',
    frames(HEADER, QUERY, END),
  ),
  asked('A6.2', 'A frame with a wrong sum is answered NAK, and taken when it comes right.', [
    ...frames(HEADER),
    { says: wrongSum, due: NAK },
    ...frames(HEADER, QUERY, END).slice(1),
  ]),
  asked('A6.3', 'A frame with a number out of turn is answered NAK.', [
    ...frames(HEADER),
    { says: frameOf(4, QUERY), due: NAK },
    ...frames(HEADER, QUERY, END).slice(1),
  ]),
  asked('A6.4', 'A frame that comes again is answered ACK and not used twice.', [
    ...frames(HEADER, QUERY),
    { says: frameOf(2, QUERY), due: ACK },
    ...frames(HEADER, QUERY, END).slice(2),
  ]),
  asked('A6.5', 'A record may come in several frames, cut by ETB.', [
    ...frames(HEADER),
    { says: frameOf(2, QUERY.slice(0, 5), ETB), due: ACK },
    { says: frameOf(3, QUERY.slice(5)), due: ACK },
    { says: frameOf(4, END), due: ACK },
  ]),
  asked(
    'A6.6',
    'What stands before STX is ignored.',
    frames(HEADER, QUERY, END).map(({ says, due }) => ({ says: `\x7f?\r${says}`, due })),
  ),
  {
    id: 'A6.7',
    section,
    promise: 'A question that breaks off is forgotten after 30 s: ENQ is answered ACK again.',
    async check(host) {
      if (host.sends !== 'when asked') return NOT_ASKED;
      const begun = await say(host, frames(HEADER));
      if (begun.kind !== 'passes') return begun;
      const { frameMs, timerStepMs, slackMs } = host.timing;
      const came = (await host.listen(frameMs + timerStepMs + slackMs))[0];
      if (came) return fails('silence', shown(came.bytes));
      const again = await say(host, []);
      await host.say(EOT);
      return again;
    },
  },
  {
    id: 'A7.1',
    section: "The meter's side: calling",
    promise: 'While nothing is sent, everything but ENQ is ignored.',
    async check(host) {
      await host.anotherTransfer();
      await host.listen(host.timing.hushMs); // what it says of itself is the business of A1.10
      for (const bytes of [ACK, NAK, EOT, 'HELLO\r\n', frameOf(1, HEADER)]) {
        await host.say(bytes);
        const came = (await host.listen(host.timing.hushMs)).find(
          (thing) => thing.bytes !== ENQ && thing.bytes !== EOT,
        );
        if (came) return fails(`silence to ${shown(bytes)}`, shown(came.bytes));
      }
      return PASSES;
    },
  },
  {
    id: 'A7.2',
    section: "The meter's side: being asked",
    promise: 'ENQ from the host is answered ACK, NAK where the meter is busy, or ENQ where it calls itself.',
    async check(host) {
      await host.anotherTransfer();
      await host.settle();
      await host.say(ENQ);
      const came = await host.next(host.timing.replyMs);
      await host.say(EOT);
      return came && [ACK, NAK, ENQ].includes(came.bytes) ? PASSES : fails('ACK, NAK or ENQ', shownThing(came));
    },
  },
];
