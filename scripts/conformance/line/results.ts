/** L4: what a result says. Section "Meter to host", REC; all of them look at the first whole reading. */
import { readTime } from '../meter-time.ts';
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { LineHost } from './host.ts';
import { wholeOf } from './identity.ts';
import { type HeardLine, shown } from './read-line.ts';

const section = 'Meter to host: REC';
const FLAGS = ['lo', 'hi', 'rng', 'hct', 'tmp', 'exp'];
const PLACES = ['', '2', '3', '4'];
const DECIMAL = /^[<>]?-?\d+(\.\d+)?$/;

type Keys = HeardLine['keys'];

/** A clause about each result to which it applies: `wrong` gives what is expected where a result breaks it. */
function each(
  id: string,
  promise: string,
  applies: (keys: Keys) => boolean,
  wrong: (keys: Keys, meter: HeardLine) => string | undefined,
): Clause<LineHost> {
  return {
    id,
    section,
    promise,
    async check(host) {
      const { meter, records } = await host.firstImage();
      const concerned = records.filter(({ keys }) => applies(keys));
      if (concerned.length === 0) return notApplicable('no result in the memory says such a thing');
      for (const line of concerned) {
        const expected = wrong(line.keys, meter);
        if (expected !== undefined) return fails(expected, shown(line.bytes));
      }
      return PASSES;
    },
  };
}

const has = (key: string) => (keys: Keys) => keys.has(key);
const isMeasured = (keys: Keys): boolean => keys.get('k') === 'p' || keys.get('k') === 'c';
const isWhole = (text: string | undefined): boolean => text !== undefined && /^\d+$/.test(text);
const isExpiry = (text: string): boolean =>
  readTime(`${/^\d{4}-\d\d$/.test(text) ? `${text}-01` : text}T00:00`) !== undefined;

export const RESULTS: readonly Clause<LineHost>[] = [
  each(
    'L4.1',
    'Every result has k: p, c or e.',
    () => true,
    (keys) => (['p', 'c', 'e'].includes(keys.get('k') ?? '') ? undefined : 'k=p, k=c or k=e'),
  ),
  each(
    'L4.2',
    'Every result has t: a time that exists, or -.',
    () => true,
    (keys) => {
      const time = keys.get('t') ?? '';
      return time === '-' || readTime(time) ? undefined : 't= a time that exists, or -';
    },
  ),
  each('L4.3', 'Patient and control tests have a, v and u.', isMeasured, (keys) =>
    ['a', 'v', 'u'].every((key) => keys.has(key)) ? undefined : 'a=, v= and u=',
  ),
  each(
    'L4.4',
    'A test that ended in an error has e, its code.',
    (keys) => keys.get('k') === 'e',
    (keys) => (keys.has('e') ? undefined : 'e='),
  ),
  each(
    'L4.5',
    'Every value is a decimal, perhaps with < or > in front.',
    (keys) => PLACES.some((place) => keys.has(`v${place}`)),
    (keys) => {
      const place = PLACES.find((n) => keys.has(`v${n}`) && !DECIMAL.test(keys.get(`v${n}`) ?? ''));
      return place === undefined ? undefined : `v${place}= a decimal`;
    },
  ),
  each(
    'L4.6',
    'Further values, 4 at most in all, have analyte, value and unit each.',
    (keys) => [...keys.keys()].some((key) => /^[avu]\d+$/.test(key)),
    (keys) => {
      for (const key of keys.keys()) {
        const number = /^[avu](\d+)$/.exec(key)?.[1];
        if (number === undefined) continue;
        if (!PLACES.includes(number)) return 'a2 v2 u2 to a4 v4 u4';
        if (!['a', 'v', 'u'].every((letter) => keys.has(letter + number)))
          return `a${number}, v${number} and u${number}`;
      }
      return undefined;
    },
  ),
  each('L4.7', 'n, where told, is a whole number.', has('n'), (keys) =>
    isWhole(keys.get('n')) ? undefined : 'n= a whole number',
  ),
  each(
    'L4.8',
    'c, where told, is a whole number, and not above the loss that METER tells.',
    has('c'),
    (keys, meter) => {
      const most = wholeOf(meter, 'loss') ?? Number.POSITIVE_INFINITY;
      return isWhole(keys.get('c')) && Number(keys.get('c')) <= most ? undefined : `c= a whole number up to ${most}`;
    },
  ),
  each('L4.9', 'exp, where told, is a day or a month that exists.', has('exp'), (keys) =>
    isExpiry(keys.get('exp') ?? '') ? undefined : 'exp= YYYY-MM-DD or YYYY-MM',
  ),
  each('L4.10', `f, where told, has flags of ${FLAGS.join(' ')}, separated by commas.`, has('f'), (keys) =>
    (keys.get('f') ?? '').split(',').every((flag) => FLAGS.includes(flag)) ? undefined : `f= of ${FLAGS.join(' ')}`,
  ),
];
