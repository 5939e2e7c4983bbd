/** L5: parts of the memory are read. Section "Host to meter", READ from and to; the latest whole reading is the measure. */
import { type Clause, fails, notApplicable, PASSES, type Verdict } from '../verdict.ts';
import type { LineHost } from './host.ts';
import { wholeOf } from './identity.ts';
import { type HeardLine, shown, shownAll } from './read-line.ts';
import { proofOf } from './reading.ts';

const section = 'Host to meter: READ from= to=';
const EMPTY = notApplicable('the memory holds too few results: make some tests on the meter first');

const recordsOf = (lines: readonly HeardLine[]): HeardLine[] => lines.filter(({ verb }) => verb === 'REC');
const slotsOf = (lines: readonly HeardLine[]): number[] => lines.map((line) => wholeOf(line, 'i') ?? 0);

/** Asks, and compares the results that come with those that should. */
async function compare(host: LineHost, question: string, expected: readonly HeardLine[]): Promise<Verdict> {
  const lines = await host.ask(question);
  const came = recordsOf(lines);
  const at = expected.findIndex((line, i) => line.body !== came[i]?.body);
  if (at >= 0)
    return fails(`to ${question}: ${expected[at]?.body}`, came[at] ? shown(came[at].bytes) : shownAll(lines));
  const more = came[expected.length];
  return more ? fails(`to ${question}: ${expected.length} REC lines`, `another one: ${shown(more.bytes)}`) : PASSES;
}

/** Two slots in the middle of the results, one after the other where there are so many, and what stands in between. */
async function middle(host: LineHost): Promise<{ from: number; to: number; lines: HeardLine[] } | undefined> {
  await host.wake();
  const { records } = await host.lastImage();
  const start = Math.max(0, Math.floor(records.length / 2) - 1);
  const lines = records.slice(start, start + 3);
  const slots = slotsOf(lines);
  const [from, to] = [slots[0], slots.at(-1)];
  return from === undefined || to === undefined ? undefined : { from, to, lines };
}

/** The meter answers, with no result. The document leaves open whether by ERR or by END n=0. */
async function nothing(host: LineHost, question: string): Promise<Verdict> {
  const lines = await host.ask(question);
  const isRight = lines.some(({ verb }) => verb === 'ERR' || verb === 'END') && recordsOf(lines).length === 0;
  return isRight ? PASSES : fails(`to ${question}: ERR, or END n=0`, shownAll(lines));
}

export const SELECTIVE: readonly Clause<LineHost>[] = [
  {
    id: 'L5.1',
    section,
    promise: 'READ from=N to=N is answered with the result in slot N, exactly as in the whole reading.',
    async check(host) {
      await host.wake();
      const { records } = await host.lastImage();
      if (records.length === 0) return EMPTY;
      const picks = [...new Set([0, Math.floor(records.length / 2), records.length - 1])];
      for (const line of picks.flatMap((at) => records[at] ?? [])) {
        const slot = wholeOf(line, 'i') ?? 0;
        const verdict = await compare(host, `READ from=${slot} to=${slot}`, [line]);
        if (verdict.kind !== 'passes') return verdict;
      }
      return PASSES;
    },
  },
  {
    id: 'L5.2',
    section,
    promise: 'READ from=A to=B is answered with the results in the slots A to B, both included, ascending.',
    async check(host) {
      const part = await middle(host);
      if (!part || part.lines.length < 2) return EMPTY;
      return compare(host, `READ from=${part.from} to=${part.to}`, part.lines);
    },
  },
  {
    id: 'L5.3',
    section,
    promise: 'READ from=1 to=cap is answered with the whole memory.',
    async check(host) {
      const cap = wholeOf(await host.wake(), 'cap');
      const { records } = await host.lastImage();
      if (cap === undefined) return notApplicable('cap cannot be read: see L1.2');
      if (records.length === 0) return EMPTY;
      return compare(host, `READ from=1 to=${cap}`, records);
    },
  },
  {
    id: 'L5.4',
    section: 'Meter to host: END',
    promise: 'END of a part counts and sums the lines of this answer, not those of the memory.',
    async check(host) {
      const part = await middle(host);
      if (!part) return EMPTY;
      const lines = await host.ask(`READ from=${part.from} to=${part.to}`);
      const records = recordsOf(lines);
      const end = lines.find(({ verb }) => verb === 'END');
      const expected = `END n=${records.length} x=${proofOf(records)}`;
      const isRight = end && wholeOf(end, 'n') === records.length && end.keys.get('x') === proofOf(records);
      return isRight ? PASSES : fails(expected, shownAll(end ? [end] : lines));
    },
  },
  {
    id: 'L5.5',
    section,
    promise: 'A slot without a result is answered with ERR, or with END n=0.',
    async check(host) {
      const cap = wholeOf(await host.wake(), 'cap') ?? 0;
      const used = new Set(slotsOf((await host.lastImage()).records));
      let free = cap;
      while (free > 0 && used.has(free)) free--;
      return free > 0 ? nothing(host, `READ from=${free} to=${free}`) : notApplicable('every slot has a result');
    },
  },
  {
    id: 'L5.6',
    section,
    promise: 'A slot beyond cap is answered with ERR, or with END n=0.',
    async check(host) {
      const cap = wholeOf(await host.wake(), 'cap');
      if (cap === undefined) return notApplicable('cap cannot be read: see L1.2');
      return nothing(host, `READ from=${cap + 1} to=${cap + 1}`);
    },
  },
  {
    id: 'L5.7',
    section: 'Meter to host: ERR',
    promise: 'A part that cannot be, from above to or slot 0, is answered with ERR, or with END n=0.',
    async check(host) {
      const part = await middle(host);
      if (!part || part.from === part.to) return EMPTY;
      const verdict = await nothing(host, `READ from=${part.to} to=${part.from}`);
      return verdict.kind === 'passes' ? nothing(host, 'READ from=0 to=0') : verdict;
    },
  },
  {
    id: 'L5.8',
    section: 'Line: the order of the keys',
    promise: 'The order of the keys has no meaning: READ to=B from=A is the same question.',
    async check(host) {
      const part = await middle(host);
      return part ? compare(host, `READ to=${part.to} from=${part.from}`, part.lines) : EMPTY;
    },
  },
  {
    id: 'L5.9',
    section: 'Line: keys that are not known',
    promise: 'A key that the meter does not know is ignored.',
    async check(host) {
      const part = await middle(host);
      return part ? compare(host, `READ from=${part.from} to=${part.to} zz-9=1`, part.lines) : EMPTY;
    },
  },
];
