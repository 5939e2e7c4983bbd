/** What the kit says of a meter: lines for people as the clauses are judged, and one JSON document for programs. */
import type { Judged, Verdict } from './verdict.ts';

/** The protocols that a meter can be held to. */
export type ProtocolName = 'tlp' | 'astm';

/** What a meter says that it is; undefined where it does not say. */
interface MeterName {
  readonly model: string | undefined;
  readonly id: string | undefined;
  readonly firmware: string | undefined;
}

/** A meter that was examined. */
export interface Examined {
  readonly protocol: ProtocolName;
  /** As the meter names itself. */
  readonly meter: MeterName;
  readonly clauses: readonly Judged[];
}

const WORDS: Readonly<Record<Verdict['kind'], string>> = {
  passes: 'passes',
  fails: 'FAILS',
  'not-applicable': 'not applicable',
};
const INDENT = ' '.repeat(23);

/** One clause as people read it; where it fails, what was expected and what came are below it. */
export function clauseLines({ id, section, promise, verdict }: Judged): string {
  const head = `${WORDS[verdict.kind].padEnd(15)} ${id.padEnd(6)} ${promise}`;
  if (verdict.kind === 'passes') return head;
  if (verdict.kind === 'not-applicable') return `${head}\n${INDENT}${verdict.why}`;
  return `${head}\n${INDENT}section:  ${section}\n${INDENT}expected: ${verdict.expected}\n${INDENT}came:     ${verdict.came}`;
}

/** How many clauses ended in which way. */
function counts(clauses: readonly Judged[]): Readonly<Record<Verdict['kind'], number>> {
  const all = { passes: 0, fails: 0, 'not-applicable': 0 };
  for (const { verdict } of clauses) all[verdict.kind]++;
  return all;
}

/** The line at the end. */
export function closingLine({ protocol, meter, clauses }: Examined): string {
  const all = counts(clauses);
  const name = [meter.model, meter.id].filter((part) => part !== undefined && part !== '').join(' ') || 'unnamed meter';
  const failed = clauses.filter(({ verdict }) => verdict.kind === 'fails').map(({ id }) => id);
  return `${name}, ${protocol === 'tlp' ? 'TLP/1' : 'ASTM'}: ${all.passes} pass, ${all.fails} fail${
    failed.length > 0 ? ` (${failed.join(', ')})` : ''
  }, ${all['not-applicable']} not applicable.`;
}

/** The whole outcome for programs. `conformance` is the version of this form; it changes only by adding. */
export function document(port: string, { protocol, meter, clauses }: Examined): unknown {
  const all = counts(clauses);
  return {
    conformance: 1,
    port,
    protocol,
    meter,
    passes: all.passes,
    fails: all.fails,
    notApplicable: all['not-applicable'],
    clauses: clauses.map(({ id, section, promise, verdict: { kind, ...told } }) => ({
      id,
      section,
      promise,
      verdict: kind,
      ...told,
    })),
  };
}
