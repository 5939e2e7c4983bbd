/** L1: the meter says who it is. Section "Meter to host", METER. */
import { readTime } from '../meter-time.ts';
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { LineHost } from './host.ts';
import { type HeardLine, shown } from './read-line.ts';

const section = 'Meter to host: METER';
const WHOLE = /^\d+$/;
const isClock = (text: string): boolean => text === '-' || readTime(text) !== undefined;

/** What each required key of METER must look like. */
const REQUIRED: readonly (readonly [key: string, form: string, isRight: (value: string) => boolean])[] = [
  ['v', '1', (value) => value === '1'],
  ['id', 'a serial number', (value) => value !== ''],
  ['model', 'a name', (value) => value !== ''],
  ['fw', 'a version', (value) => value !== ''],
  ['cap', 'a whole number from 1', (value) => WHOLE.test(value) && Number(value) > 0],
  ['held', 'a whole number', (value) => WHOLE.test(value)],
  ['order', 'newest, oldest or ring', (value) => ['newest', 'oldest', 'ring'].includes(value)],
  ['clock', 'a time that exists, or -', isClock],
];

/** A whole number that METER tells; undefined where it tells none. */
export function wholeOf(line: HeardLine, key: string): number | undefined {
  const text = line.keys.get(key);
  return text !== undefined && WHOLE.test(text) ? Number(text) : undefined;
}

export const IDENTITY: readonly Clause<LineHost>[] = [
  {
    id: 'L1.1',
    section: 'Host to meter: HELLO',
    promise: 'HELLO, repeated once a second up to 5 times, is answered with METER.',
    async check(host) {
      await host.wake();
      return PASSES;
    },
  },
  {
    id: 'L1.2',
    section,
    promise: 'METER has v=1, id, model, fw, cap, held, order and clock, each in its form.',
    async check(host) {
      const meter = await host.wake();
      for (const [key, form, isRight] of REQUIRED) {
        const value = meter.keys.get(key);
        if (value === undefined || !isRight(value)) return fails(`${key}= ${form}`, shown(meter.bytes));
      }
      return PASSES;
    },
  },
  {
    id: 'L1.3',
    section,
    promise: 'No more results are held than there are slots.',
    async check(host) {
      const meter = await host.wake();
      const [held, cap] = [wholeOf(meter, 'held'), wholeOf(meter, 'cap')];
      if (held === undefined || cap === undefined) return notApplicable('held or cap cannot be read: see L1.2');
      return held <= cap ? PASSES : fails(`held from 0 to cap=${cap}`, `held=${held}`);
    },
  },
  {
    id: 'L1.4',
    section,
    promise: 'A ring that says which slot is written next names one of its slots.',
    async check(host) {
      const meter = await host.wake();
      const next = meter.keys.get('next');
      if (meter.keys.get('order') !== 'ring') return notApplicable('the memory is no ring');
      if (next === undefined) return notApplicable('the meter does not tell next');
      const slot = wholeOf(meter, 'next') ?? 0;
      return slot >= 1 && slot <= (wholeOf(meter, 'cap') ?? slot)
        ? PASSES
        : fails('next from 1 to cap', `next=${next}`);
    },
  },
  {
    id: 'L1.5',
    section,
    promise: 'loss, where told, is a whole number; reset, where told, is a time that exists, or -.',
    async check(host) {
      const { keys } = await host.wake();
      const [loss, reset] = [keys.get('loss'), keys.get('reset')];
      if (loss === undefined && reset === undefined) return notApplicable('the meter tells neither');
      if (loss !== undefined && !WHOLE.test(loss)) return fails('loss= a whole number', `loss=${loss}`);
      if (reset !== undefined && !isClock(reset)) return fails('reset= a time that exists, or -', `reset=${reset}`);
      return PASSES;
    },
  },
  {
    id: 'L1.6',
    section,
    promise: 'Asked again, the meter has the same id, model, fw, cap and order.',
    async check(host) {
      const [one, two] = [await host.wake(), await host.wake()];
      const changed = ['id', 'model', 'fw', 'cap', 'order'].find((key) => one.keys.get(key) !== two.keys.get(key));
      return changed === undefined
        ? PASSES
        : fails(`${changed}=${one.keys.get(changed)} again`, `${changed}=${two.keys.get(changed)}`);
    },
  },
];
