/**
 * L6: damaged, malformed and over-long lines are dropped and nothing else is. Section "Line". CLOCK is the question
 * wherever one is needed: its answer is short and changes nothing.
 */
import { type Clause, fails, PASSES, type Verdict } from '../verdict.ts';
import type { LineHost } from './host.ts';
import { type HeardLine, lineOf, shownAll } from './read-line.ts';

const section = 'Line';
const QUESTION = lineOf('CLOCK');

/** A line that must be dropped: silence or ERR is the answer, and the next question is answered as ever. */
const dropped = (id: string, promise: string, bytes: string): Clause<LineHost> => ({
  id,
  section,
  promise,
  async check(host) {
    await host.wake();
    const came = await host.provoke(bytes);
    if (came.some(({ verb }) => verb !== 'ERR')) return fails('silence, or ERR', shownAll(came));
    return answered(await host.ask('CLOCK'), 'the next line');
  },
});

/** A line that must be taken: it is answered with CLOCK and nothing else. */
const taken = (id: string, promise: string, bytes: string): Clause<LineHost> => ({
  id,
  section,
  promise,
  async check(host) {
    await host.wake();
    return answered(await host.askRaw(bytes, 'whole'), 'this line');
  },
});

const answered = (lines: readonly HeardLine[], what: string): Verdict =>
  lines.length === 1 && lines[0]?.verb === 'CLOCK' ? PASSES : fails(`one CLOCK t= to ${what}`, shownAll(lines));

/** A body of exactly so many bytes that asks for the clock and has a key that no meter knows. */
const longBody = (bytes: number): string => `CLOCK pad=${'x'.repeat(bytes - 'CLOCK pad='.length)}`;

export const DAMAGE: readonly Clause<LineHost>[] = [
  dropped(
    'L6.1',
    'A line with wrong check digits is dropped, and the meter is in step at the next LF.',
    'CLOCK*0000\r\n',
  ),
  dropped(
    'L6.2',
    'Check digits in lower case are wrong.',
    QUESTION.replace(/\*.{4}/, (digits) => digits.toLowerCase()),
  ),
  dropped('L6.3', 'A line without check digits is dropped.', 'CLOCK\r\n'),
  dropped('L6.4', 'Noise up to an LF is dropped.', '\x00\xff\x80U*\x7f\xaa\r\n'),
  dropped('L6.5', 'A whole line of more than 240 bytes is dropped.', lineOf(longBody(234))),
  dropped(
    'L6.6',
    'An over-long line is dropped up to its LF, also where it ends like a good one.',
    // Wherever a meter that starts afresh when its buffer is full would do so.
    [230, 232, 237, 238, 239, 240, 241, 255, 256, 480].map((length) => 'A'.repeat(length) + QUESTION).join(''),
  ),
  dropped('L6.7', 'A verb in lower case is dropped.', lineOf('clock')),
  dropped('L6.8', 'A line with a key that stands twice is dropped.', lineOf('CLOCK zz=1 zz=2')),
  dropped('L6.9', 'A line with two spaces between fields is dropped.', lineOf('CLOCK  zz=1')),
  dropped('L6.10', 'A line with a key without a value is dropped.', lineOf('CLOCK zz=')),
  dropped('L6.11', 'A verb that the meter does not know changes nothing; ERR may be the answer.', lineOf('XYZZY')),
  taken('L6.12', 'A bare LF ends a line too.', QUESTION.replace('\r', '')),
  taken('L6.13', 'Empty lines are ignored.', `\r\n\n\r\n${QUESTION}`),
  taken('L6.14', 'The longest body, 230 bytes, is taken.', lineOf(longBody(230))),
  {
    id: 'L6.15',
    section: 'Link',
    promise: 'A line may come in pieces, here of one byte each.',
    async check(host) {
      await host.wake();
      return answered(await host.askRaw(QUESTION, 'one by one'), 'this line');
    },
  },
];
