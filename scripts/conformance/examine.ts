/** Examines one meter: judges every clause of the protocol that it claims. */
import { Fault } from '../../src/core/fault.ts';
import { LINE_CLAUSES } from './line/clauses.ts';
import { createLineHost, type LineHost } from './line/host.ts';
import type { Examined } from './report.ts';
import type { Timing } from './timing.ts';
import { type Clause, type Judged, judge } from './verdict.ts';
import type { Wire } from './wire.ts';

/** What the kit is told of the world. */
export interface Examination {
  readonly timing: Timing;
  /** The computer's wall clock, milliseconds as if it were UTC. */
  readonly wallNow: () => number;
  /** Only these clauses, by number (`L3.4`) or chapter (`L3`); absent: all. */
  readonly only?: readonly string[];
  /** Told each clause as it is judged. */
  readonly tell?: (judged: Judged) => void;
}

/** Opens the wire, examines the meter and closes the wire. Throws a Fault where the call is wrong or the port cannot be opened. */
export async function examine(wire: Wire, examination: Examination): Promise<Examined> {
  const clauses = chosen(LINE_CLAUSES, examination.only);
  await wire.open();
  try {
    return await examineLine(wire, clauses, examination);
  } finally {
    await wire.close();
  }
}

/** Those of the clauses that are named. Throws CALL_WRONG for a name that none of them has. */
function chosen<H>(clauses: readonly Clause<H>[], only: readonly string[] | undefined): readonly Clause<H>[] {
  const isNamed = (id: string, name: string): boolean => id === name || id.startsWith(`${name}.`);
  const unknown = only?.find((name) => !clauses.some(({ id }) => isNamed(id, name)));
  if (unknown !== undefined)
    throw new Fault('CALL_WRONG', `There is no clause ${unknown}`, 'protocols/CONFORMANCE.md lists them.');
  return only ? clauses.filter(({ id }) => only.some((name) => isNamed(id, name))) : clauses;
}

async function examineLine(
  wire: Wire,
  clauses: readonly Clause<LineHost>[],
  { timing, wallNow, tell }: Examination,
): Promise<Examined> {
  const host = createLineHost(wire, timing, wallNow);
  const judged = await judge(clauses, host, tell);
  const keys = host.heard.find(({ verb }) => verb === 'METER')?.keys;
  const meter = { model: keys?.get('model'), id: keys?.get('id'), firmware: keys?.get('fw') };
  await host.ask('BYE').catch(() => undefined);
  return { protocol: 'tlp', meter, clauses: judged };
}
