/** L8: the form of every line that came, whatever it was the answer to. Looks back and sends nothing. */
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { LineHost } from './host.ts';
import { type HeardLine, type LineFault, shown } from './read-line.ts';

const VERBS = ['METER', 'CLOCK', 'REC', 'END', 'NEW', 'ERR', 'BYE'];
const ERRORS = ['busy', 'noslot', 'syntax', 'unknown', 'range'];
/** What NEW must have, as REC has. */
const RESULT_KEYS = ['i', 't', 'k'];

/** A clause about each line heard to which it applies: `wrong` gives what came instead where a line breaks it. */
function each(
  id: string,
  section: string,
  promise: string,
  expected: string,
  wrong: (line: HeardLine, host: LineHost) => string | undefined,
  applies: (line: HeardLine) => boolean = () => true,
): Clause<LineHost> {
  return {
    id,
    section,
    promise,
    looksBack: true,
    async check(host) {
      const concerned = host.heard.filter(applies);
      if (concerned.length === 0) return notApplicable('no such line came');
      for (const line of concerned) {
        const came = wrong(line, host);
        if (came !== undefined) return fails(expected, came);
      }
      return PASSES;
    },
  };
}

const fault =
  (kind: LineFault) =>
  (line: HeardLine): string | undefined => {
    const found = line.faults.find((one) => one.kind === kind);
    return found && `${shown(line.bytes)} (${found.says})`;
  };

export const FORM: readonly Clause<LineHost>[] = [
  each('L8.1', 'Line', 'Every line has the right check digits, in upper case.', 'the CRC of the body', fault('check')),
  each('L8.2', 'Line', 'No line is longer than 240 bytes, no body than 230.', '240 bytes at most', fault('length')),
  each(
    'L8.3',
    'Line',
    'Every line is printable ASCII, with one * and an LF at its end.',
    'BODY*HHHH CR LF',
    fault('form'),
  ),
  each(
    'L8.4',
    'Line: grammar',
    'Every body follows the grammar, each key once.',
    'VERB *( SP key=value )',
    fault('grammar'),
  ),
  each(
    'L8.5',
    'Meter to host',
    `The meter says only ${VERBS.join(', ')}.`,
    `one of ${VERBS.join(', ')}`,
    (line) => (VERBS.includes(line.verb) ? undefined : shown(line.bytes)),
    // What is not even a line is the business of the clauses above.
    ({ faults }) => faults.length === 0,
  ),
  each(
    'L8.6',
    'Meter to host: ERR',
    `ERR has e, one of ${ERRORS.join(', ')}.`,
    `e= one of ${ERRORS.join(', ')}`,
    ({ keys, bytes }) => (ERRORS.includes(keys.get('e') ?? '') ? undefined : shown(bytes)),
    ({ verb }) => verb === 'ERR',
  ),
  each(
    'L8.7',
    'Host to meter: waiting times',
    'An answer begins within 2 s of the question, and its lines are no more than 2 s apart.',
    '2 s at most',
    ({ afterMs, bytes }, { timing }) =>
      afterMs <= timing.answerMs + timing.slackMs
        ? undefined
        : `after ${(afterMs / 1000).toFixed(1)} s: ${shown(bytes)}`,
    // A meter that sleeps is silent at first, as it may.
    ({ isAsked, verb }) => isAsked && verb !== 'METER' && verb !== 'NEW',
  ),
  each(
    'L8.8',
    'Link: half duplex',
    'Only NEW comes unasked.',
    'silence while no question is open',
    ({ bytes, verb, isAsked }) => (isAsked || verb === 'NEW' ? undefined : shown(bytes)),
  ),
  each(
    'L8.9',
    'Meter to host: NEW',
    'NEW has the keys of REC.',
    `NEW with ${RESULT_KEYS.join(', ')}`,
    ({ keys, bytes }) => (RESULT_KEYS.every((key) => keys.has(key)) ? undefined : shown(bytes)),
    ({ verb }) => verb === 'NEW',
  ),
];
