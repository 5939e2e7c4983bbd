/** A3: what a message is made of. Section "The meter's side", records; all of them look at the first transfer. */
import { type Clause, fails, notApplicable, PASSES, type Verdict } from '../verdict.ts';
import type { AstmHost } from './host.ts';
import { declared, type HeardRecord, type Message, messageOf } from './message.ts';
import { shown } from './read-frame.ts';

const section = "The meter's side: records";
/** The level of each record; C and M belong to whatever is before them. */
const LEVELS: Readonly<Record<string, number>> = { H: 0, P: 1, Q: 1, S: 1, O: 2, R: 3, L: 0 };
const BELOW = 'CM';

/** The message of the first transfer. */
export const firstMessage = async (host: AstmHost): Promise<Message> => messageOf(await host.firstTransfer());

const aboutMessage = (id: string, promise: string, judge: (message: Message) => Verdict): Clause<AstmHost> => ({
  id,
  section,
  promise,
  async check(host) {
    const message = await firstMessage(host);
    return message.records.length === 0 ? notApplicable('no record came: see A1.1') : judge(message);
  },
});

function ends({ records }: Message): Verdict {
  const [first, last] = [records[0], records.at(-1)];
  if (first?.type !== 'H') return fails('H, the header, first', shown(first?.text ?? 'nothing'));
  if (last?.type !== 'L') return fails('L, the terminator, last', shown(last?.text ?? 'nothing'));
  const more = records.slice(1, -1).find(({ type }) => type === 'H' || type === 'L');
  return more ? fails('one H and one L', `another: ${shown(more.text)}`) : PASSES;
}

function delimiters({ records }: Message): Verdict {
  const header = records.find(({ type }) => type === 'H');
  if (!header) return notApplicable('no header came: see A3.1');
  return declared(header.text) ? PASSES : fails('H and four different delimiters, such as H|\\^&', shown(header.text));
}

function levels({ records }: Message): Verdict {
  let level = -1;
  for (const record of records) {
    const own = LEVELS[record.type];
    if (BELOW.includes(record.type) ? level < 0 : own !== undefined && own > level + 1)
      return fails('P below H, O below P, R below O, C and M below what they are about', shown(record.text));
    level = own ?? level;
    if (record.type === 'L') level = -1;
  }
  return PASSES;
}

/** Numbers begin at 1 below each record of a higher level. C and M are counted by letter below what they are about. */
function sequences({ records }: Message): Verdict {
  const counts = new Map<string, number>();
  for (const record of records) {
    if (record.type === 'H') continue;
    const count = (counts.get(record.type) ?? 0) + 1;
    if (record.field(2) !== String(count)) return fails(`${record.type} with the number ${count}`, shown(record.text));
    const level = LEVELS[record.type] ?? Number.POSITIVE_INFINITY;
    // What stands below this record is counted afresh.
    for (const type of counts.keys()) if (level < (LEVELS[type] ?? Number.POSITIVE_INFINITY)) counts.delete(type);
    counts.set(record.type, count);
  }
  return PASSES;
}

function terminator({ records, tests }: Message): Verdict {
  const last = records.find(({ type }) => type === 'L');
  if (!last) return notApplicable('no L came: see A3.1');
  const codes = tests.length === 0 ? ['', 'N', 'F', 'I'] : ['', 'N', 'F'];
  return codes.includes(last.field(3))
    ? PASSES
    : fails(tests.length === 0 ? 'L with N, F, I or nothing' : 'L with N, F or nothing', shown(last.text));
}

function escapes({ records, delimiters: { escape: mark } }: Message): Verdict {
  const wrong = records.find((record) => hasWrongEscape(record, mark));
  return wrong ? fails('escapes F, S, R, E, H, N or Xhh.., each closed', shown(wrong.text)) : PASSES;
}

/** The header's own declaration has none, and a manufacturer record neither. */
function hasWrongEscape({ type, text }: HeardRecord, mark: string): boolean {
  if (type === 'M') return false;
  const parts = (type === 'H' ? text.slice(5) : text).split(mark);
  return (
    parts.length % 2 === 0 || parts.some((part, i) => i % 2 === 1 && !/^([FSREHN]|X([0-9A-Fa-f]{2})+)$/.test(part))
  );
}

export const RECORD_CLAUSES: readonly Clause<AstmHost>[] = [
  aboutMessage('A3.1', 'A message is one header H, then everything else, then one terminator L.', ends),
  aboutMessage('A3.2', 'The header declares four delimiters, all different, no letters or digits.', delimiters),
  aboutMessage('A3.3', 'Every record is H, P, Q, S, O, R, C, M or L.', ({ records }) => {
    const strange = records.find(({ type }) => LEVELS[type] === undefined && !BELOW.includes(type));
    return strange ? fails('H, P, Q, S, O, R, C, M or L', shown(strange.text)) : PASSES;
  }),
  aboutMessage('A3.4', 'Records stand by level: P below H, O below P, R below O, C and M below any but L.', levels),
  aboutMessage(
    'A3.5',
    'Field 2 counts records of a letter from 1, afresh below each record of a higher level.',
    sequences,
  ),
  aboutMessage(
    'A3.6',
    'L ends a whole message with N, F or no code, or with I where there is no test to tell.',
    terminator,
  ),
  aboutMessage(
    'A3.7',
    'The escape character stands only around F, S, R, E, H, N or Xhh..; in M nowhere at all.',
    escapes,
  ),
];
