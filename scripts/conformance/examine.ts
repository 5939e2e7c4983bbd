/** Examines one meter: finds out what it speaks, unless that is said, and judges every clause of that protocol. */
import { Fault } from '../../src/core/fault.ts';
import { ASTM_CLAUSES } from './astm/clauses.ts';
import { type AstmHost, createAstmHost, type Sends } from './astm/host.ts';
import { messageOf } from './astm/message.ts';
import { LINE_CLAUSES } from './line/clauses.ts';
import { createLineHost } from './line/host.ts';
import { recognise } from './recognise.ts';
import type { Examined, ProtocolName } from './report.ts';
import type { Timing } from './timing.ts';
import { type Clause, type Judged, judge, NoAnswer } from './verdict.ts';
import type { Wire } from './wire.ts';

/** What is said of the meter, and what the kit is told of the world. */
export interface Examination {
  /** What the meter claims to speak; absent: it is tried. */
  readonly protocol?: ProtocolName;
  /** How a meter of E1381 comes to send. */
  readonly sends: Sends;
  readonly timing: Timing;
  /** The computer's wall clock, milliseconds as if it were UTC. */
  readonly wallNow: () => number;
  /** Only these clauses, by number (`L3.4`) or chapter (`L3`); absent: all. */
  readonly only?: readonly string[];
  /** Told each clause as it is judged. */
  readonly tell?: (judged: Judged) => void;
  /** Told what somebody must do at the meter. */
  readonly notice?: (text: string) => void;
}

/**
 * Opens the wire, examines the meter and closes the wire. Throws a Fault where the call is wrong, the port cannot be
 * opened, or no protocol was said and none was recognised.
 */
export async function examine(wire: Wire, examination: Examination): Promise<Examined> {
  const { protocol, only, timing, sends, notice = () => {} } = examination;
  const named = only?.some((name) => name.startsWith('L'))
    ? 'tlp'
    : only?.some((name) => name.startsWith('A'))
      ? 'astm'
      : undefined;
  const said = protocol ?? named;
  // A wrong name is said before the port is touched.
  if (said === 'tlp') chosen(LINE_CLAUSES, only);
  if (said === 'astm') chosen(ASTM_CLAUSES, only);
  await wire.open();
  try {
    const host = createAstmHost(wire, timing, sends, notice);
    const speaks = said ?? (await tried(host));
    return speaks === 'tlp' ? await examineLine(wire, examination) : await examineAstm(host, examination);
  } finally {
    await wire.close();
  }
}

/** The protocol that was recognised. Throws METER_SILENT where none was. */
async function tried(host: AstmHost): Promise<ProtocolName> {
  const speaks = await recognise(host).catch((thrown: unknown) => {
    if (thrown instanceof NoAnswer) return undefined;
    throw thrown;
  });
  if (speaks) return speaks;
  throw new Fault(
    'METER_SILENT',
    'Neither a line of TLP/1 nor a frame of E1381 with a right sum came',
    'Say what it should be with --protocol, and look at cable and speed.',
  );
}

/** Those of the clauses that are named. Throws CALL_WRONG for a name that none of them has. */
function chosen<H>(clauses: readonly Clause<H>[], only: readonly string[] | undefined): readonly Clause<H>[] {
  const isNamed = (id: string, name: string): boolean => id === name || id.startsWith(`${name}.`);
  const unknown = only?.find((name) => !clauses.some(({ id }) => isNamed(id, name)));
  if (unknown !== undefined)
    throw new Fault('CALL_WRONG', `There is no clause ${unknown} here`, 'protocols/CONFORMANCE.md lists them.');
  return only ? clauses.filter(({ id }) => only.some((name) => isNamed(id, name))) : clauses;
}

async function examineLine(wire: Wire, { timing, wallNow, only, tell }: Examination): Promise<Examined> {
  const host = createLineHost(wire, timing, wallNow);
  const clauses = await judge(chosen(LINE_CLAUSES, only), host, tell);
  const keys = host.heard.find(({ verb }) => verb === 'METER')?.keys;
  const meter = { model: keys?.get('model'), id: keys?.get('id'), firmware: keys?.get('fw') };
  await host.ask('BYE').catch(() => undefined);
  return { protocol: 'tlp', meter, clauses };
}

async function examineAstm(host: AstmHost, { only, tell }: Examination): Promise<Examined> {
  const clauses = await judge(chosen(ASTM_CLAUSES, only), host, tell);
  const transfer = await host.firstTransfer().catch((thrown: unknown) => {
    if (thrown instanceof NoAnswer) return undefined;
    throw thrown;
  });
  const header = transfer && messageOf(transfer).records.find(({ type }) => type === 'H');
  const [model, id, firmware] = [1, 2, 3].map((component) => header?.part(5, component) || undefined);
  return { protocol: 'astm', meter: { model, id, firmware }, clauses };
}
