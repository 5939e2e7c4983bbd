/** L3: the whole memory is read, with its proof, and stays as it is. Section "Host to meter", READ, and END. */
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { Image, LineHost } from './host.ts';
import { wholeOf } from './identity.ts';
import { checkDigits, type HeardLine, shown, shownAll } from './read-line.ts';

const READ = 'Host to meter: READ';
const END = 'Meter to host: END';
const NO_END = notApplicable('no END came: see L3.1');

/** The check digits that END must give: over all bodies of REC, each followed by one LF. */
export const proofOf = (records: readonly HeardLine[]): string =>
  checkDigits(records.map(({ body }) => `${body}\n`).join(''));

/** The results by age, oldest first; undefined where METER does not tell it. */
function oldestFirst({ meter, records }: Image): readonly HeardLine[] | undefined {
  const order = meter.keys.get('order');
  if (order === 'newest') return records.toReversed();
  if (order === 'oldest') return records;
  const next = order === 'ring' ? wholeOf(meter, 'next') : undefined;
  if (next === undefined) return undefined;
  const slot = (line: HeardLine): number => wholeOf(line, 'i') ?? 0;
  return [...records.filter((line) => slot(line) >= next), ...records.filter((line) => slot(line) < next)];
}

export const READING: readonly Clause<LineHost>[] = [
  {
    id: 'L3.1',
    section: READ,
    promise: 'READ is answered with REC lines and then END, and nothing else.',
    async check(host) {
      const { all } = await host.firstImage();
      const stranger = all.slice(0, -1).find(({ verb }) => verb !== 'REC');
      if (stranger) return fails('REC', shown(stranger.bytes));
      return all.at(-1)?.verb === 'END' ? PASSES : fails('END after the last REC', shownAll(all.slice(-1)));
    },
  },
  {
    id: 'L3.2',
    section: READ,
    promise: 'The slots of READ are from 1 to cap and ascend, none of them twice.',
    async check(host) {
      const { meter, records } = await host.firstImage();
      const cap = wholeOf(meter, 'cap') ?? Number.POSITIVE_INFINITY;
      let last = 0;
      for (const line of records) {
        const slot = wholeOf(line, 'i');
        if (slot === undefined || slot <= last || slot > cap)
          return fails(`i= from ${last + 1} to ${cap}`, shown(line.bytes));
        last = slot;
      }
      return PASSES;
    },
  },
  {
    id: 'L3.3',
    section: END,
    promise: 'END n= is the number of REC lines in this answer.',
    async check(host) {
      const { end, records } = await host.firstImage();
      if (!end) return NO_END;
      return wholeOf(end, 'n') === records.length ? PASSES : fails(`END n=${records.length}`, shown(end.bytes));
    },
  },
  {
    id: 'L3.4',
    section: END,
    promise: 'END x= is the CRC over the bodies of the REC lines in their order, each followed by one LF.',
    async check(host) {
      const { end, records } = await host.firstImage();
      if (!end) return NO_END;
      const proof = proofOf(records);
      return end.keys.get('x') === proof ? PASSES : fails(`END x=${proof}`, shown(end.bytes));
    },
  },
  {
    id: 'L3.5',
    section: 'Meter to host: METER',
    promise: 'READ tells as many results as METER said are held.',
    async check(host) {
      const { meter, records } = await host.firstImage();
      const held = wholeOf(meter, 'held');
      if (held === undefined) return notApplicable('held cannot be read: see L1.2');
      return held === records.length ? PASSES : fails(`${held} REC lines`, `${records.length}`);
    },
  },
  {
    id: 'L3.6',
    section: 'Meter to host: REC',
    promise: 'Running numbers, where told, rise from the oldest result to the newest.',
    async check(host) {
      const image = await host.firstImage();
      const inOrder = oldestFirst(image);
      if (!inOrder) return notApplicable('the order of the results is not told: see order and next in METER');
      const numbered = inOrder.filter((line) => wholeOf(line, 'n') !== undefined);
      if (numbered.length < 2) return notApplicable('fewer than two results have a running number');
      const runs = numbered.map((line) => wholeOf(line, 'n') ?? 0);
      const at = runs.findIndex((run, i) => i > 0 && run <= (runs[i - 1] ?? 0));
      const line = numbered[at];
      return line ? fails(`n= above ${runs[at - 1]}, that of the result made before it`, shown(line.bytes)) : PASSES;
    },
  },
  {
    id: 'L3.7',
    section: 'Why it is as it is: no deleting',
    promise: 'Reading destroys nothing: read again, every result is there and says the same.',
    async check(host) {
      const first = await host.firstImage();
      const second = await host.read();
      const there = new Set(second.records.map(({ body }) => body));
      const lost = first.records.find(({ body }) => !there.has(body));
      return lost
        ? fails(shown(lost.bytes), `it is not among the ${second.records.length} of the second reading`)
        : PASSES;
    },
  },
];
