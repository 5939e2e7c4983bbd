/**
 * A4: what a message says of the meter and of its tests. Section "Field paths", as the generic profiles have them; all
 * of them look at the first transfer. A meter whose facts stand elsewhere is judged by its own profile, not by these.
 */
import { readCompactTime } from '../meter-time.ts';
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { AstmHost } from './host.ts';
import type { HeardRecord, HeardTest, Message } from './message.ts';
import { shown } from './read-frame.ts';
import { firstMessage } from './records.ts';

const FLAGS = ['L', 'H', 'LL', 'HH', '<', '>', 'N', 'A', 'U', 'D', 'B', 'W'];
const STATUSES = ['C', 'P', 'F', 'X', 'I', 'S', 'M', 'R', 'N', 'Q', 'V', 'W'];
const ACTIONS = ['', 'C', 'A', 'N', 'P', 'L', 'X', 'Q'];
const DECIMAL = /^[<>]?-?\d+(\.\d+)?$/;

const at = (fact: string): string => `Field paths (\`astm\`): ${fact}`;

/** A clause about each of the records that `pick` gives: `wrong` says what is expected where one breaks it. */
function each(
  id: string,
  fact: string,
  promise: string,
  pick: (message: Message) => readonly HeardRecord[],
  wrong: (record: HeardRecord, message: Message) => string | undefined,
): Clause<AstmHost> {
  return {
    id,
    section: at(fact),
    promise,
    async check(host) {
      const message = await firstMessage(host);
      const concerned = pick(message);
      if (concerned.length === 0) return notApplicable('nothing in the message says such a thing');
      for (const record of concerned) {
        const expected = wrong(record, message);
        if (expected !== undefined) return fails(expected, shown(record.text));
      }
      return PASSES;
    },
  };
}

const header = ({ records }: Message): readonly HeardRecord[] => records.filter(({ type }) => type === 'H').slice(0, 1);
const orders = ({ tests }: Message): readonly HeardRecord[] => tests.map(({ order }) => order);
const results = ({ tests }: Message): readonly HeardRecord[] => tests.flatMap((test) => test.results);
const values = (message: Message): readonly HeardRecord[] =>
  results(message).filter((result) => result.field(4) !== '');
const strips = ({ tests }: Message): readonly HeardRecord[] =>
  tests.flatMap(({ below }) => below.filter((record) => record.type === 'M' && record.part(3, 1) === 'strip'));
const isWhole = (text: string): boolean => /^[1-9]\d*$/.test(text);
const isTime = (text: string): boolean => readCompactTime(text) !== undefined;

/** Whether a comment of the instrument, with a code, follows a result before the next one. */
function hasCode({ below }: HeardTest, result: HeardRecord): boolean {
  const behind = below.slice(below.indexOf(result) + 1);
  const next = behind.findIndex(({ type }) => type === 'R');
  return behind
    .slice(0, next < 0 ? undefined : next)
    .some(
      (record) => record.type === 'C' && [record.field(3), record.field(5)].includes('I') && record.field(4) !== '',
    );
}

/** Whether numbers all rise or all fall. */
const isOneWay = (numbers: readonly number[]): boolean =>
  [1, -1].some((way) => numbers.every((n, i) => i === 0 || (n - (numbers[i - 1] ?? 0)) * way > 0));

export const FACT_CLAUSES: readonly Clause<AstmHost>[] = [
  each('A4.1', 'meterId', 'H.5 names the meter: model, serial number, firmware.', header, (record) =>
    record.part(5, 1) !== '' && record.part(5, 2) !== '' ? undefined : 'model^serial number^firmware in H.5',
  ),
  each(
    'A4.2',
    'clock',
    'H.14 is what the clock shows: a time that exists, or nothing where it is not set.',
    header,
    (record) =>
      record.field(14) === '' || isTime(record.field(14)) ? undefined : 'YYYYMMDDhhmmss, or nothing, in H.14',
  ),
  {
    id: 'A4.3',
    section: at('slot'),
    promise: 'O.4.1 is the slot; slots count from 1 in the order of sending.',
    async check(host) {
      const all = orders(await firstMessage(host));
      if (all.length === 0) return notApplicable('the memory is empty: make some tests on the meter first');
      if (all.every((order) => order.part(4, 1) === '')) return notApplicable('the meter tells no slots');
      const wrong = all.findIndex((order, i) => order.part(4, 1) !== String(i + 1));
      return wrong < 0 ? PASSES : fails(`slot ${wrong + 1} in O.4.1`, shown(all[wrong]?.text ?? ''));
    },
  },
  {
    id: 'A4.4',
    section: at('runNumber'),
    promise: 'O.4.2, where told, is the running number of the test; it rises with the tests.',
    async check(host) {
      const told = orders(await firstMessage(host)).filter((order) => order.part(4, 2) !== '');
      if (told.length === 0) return notApplicable('the meter tells no running numbers');
      const strange = told.find((order) => !isWhole(order.part(4, 2)));
      if (strange) return fails('a whole number in O.4.2', shown(strange.text));
      const numbers = told.map((order) => Number(order.part(4, 2)));
      return isOneWay(numbers) ? PASSES : fails('numbers that all rise, or all fall', numbers.join(' '));
    },
  },
  {
    id: 'A4.5',
    section: 'From records to tests: an order without a result',
    promise: 'Every order has a result.',
    async check(host) {
      const { tests } = await firstMessage(host);
      if (tests.length === 0) return notApplicable('the memory is empty: make some tests on the meter first');
      const bare = tests.find((test) => test.results.length === 0);
      return bare ? fails('R below O', shown(bare.order.text)) : PASSES;
    },
  },
  each(
    'A4.6',
    'control',
    `O.12 is Q for a control test, else one of ${ACTIONS.join(' ').trim()}, or nothing.`,
    orders,
    (order) => (ACTIONS.includes(order.field(12)) ? undefined : 'O.12 of the standard'),
  ),
  each('A4.7', 'analyte', 'R.3.4 names the analyte.', results, (result) =>
    result.part(3, 4) !== '' ? undefined : '^^^INR, or another name, in R.3',
  ),
  each('A4.8', 'value', 'R.4 is a decimal, perhaps with < or > in front.', values, (result) =>
    DECIMAL.test(result.field(4)) ? undefined : 'a decimal in R.4',
  ),
  each('A4.9', 'unit', 'R.5 has the unit of a value.', values, (result) =>
    result.field(5) !== '' ? undefined : 'a unit in R.5',
  ),
  each(
    'A4.10',
    'flags',
    `R.7, where told, is one or several of ${FLAGS.join(' ')}.`,
    (message) => results(message).filter((result) => result.field(7) !== ''),
    (result, { delimiters: { repeat } }) =>
      result
        .field(7)
        .split(repeat)
        .every((flag) => FLAGS.includes(flag))
        ? undefined
        : `R.7 of ${FLAGS.join(' ')}`,
  ),
  each('A4.11', 'status', `R.9 is one of ${STATUSES.join(' ')}.`, results, (result) =>
    STATUSES.includes(result.field(9)) ? undefined : `R.9 of ${STATUSES.join(' ')}`,
  ),
  each(
    'A4.12',
    'time',
    'R.13, else R.12, is a time that exists, or nothing where the clock was not set.',
    results,
    (result) => {
      const time = result.field(13) || result.field(12);
      return time === '' || isTime(time) ? undefined : 'YYYYMMDDhhmmss, or nothing, in R.13';
    },
  ),
  each(
    'A4.13',
    'lot',
    'M of a strip is strip^LOT, or strip^LOT^EXPIRY with a day or a month that exists.',
    strips,
    (strip) => {
      const [lot, expiry] = [strip.part(3, 2), strip.part(3, 3)];
      const isExpiry = expiry === '' || isTime(/^\d{6}$/.test(expiry) ? `${expiry}01` : expiry);
      return lot !== '' && isExpiry ? undefined : 'strip^LOT^YYYYMMDD';
    },
  ),
  {
    id: 'A4.14',
    section: 'From records to tests: error tests',
    promise: 'A result without a value has the status X, or a comment of the instrument with a code.',
    async check(host) {
      const { tests } = await firstMessage(host);
      const empty = tests.flatMap((test) =>
        test.results.filter((result) => result.field(4) === '').map((result) => ({ test, result })),
      );
      if (empty.length === 0) return notApplicable('every result has a value');
      const wrong = empty.find(({ test, result }) => result.field(9) !== 'X' && !hasCode(test, result));
      return wrong ? fails('X in R.9, or C|1|I|CODE|I behind it', shown(wrong.result.text)) : PASSES;
    },
  },
];
