/**
 * One step of one outlet: the next piece of the log is read, what the outlet must be told of it is handed over, and what
 * came of it is noted. The order of the writes makes delivery sure: what is about to be handed over is noted before, that
 * it is done after. Whatever dies in between, the batch is handed over again, and the receiver knows it by reading and
 * version.
 */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import type { ComposedReading } from '../store/compose-outgoing.ts';
import type { EarlierVersion, LogRow } from '../store/outgoing.ts';
import type { LoggedVersion, StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import { type Chosen, choose, type Told } from './choose.ts';
import { dayNumberOf, disguise, pseudonym } from './disguise.ts';
import type { OutletFilter } from './filter.ts';
import type { Delivery, Outlet } from './outlet.ts';

/** An outlet that is ready to be fed. */
export interface OpenOutlet {
  readonly outlet: Outlet;
  readonly filter: OutletFilter;
  /** The key of its pseudonyms, where it is told no names. */
  readonly key?: string;
}

/** What came of a step. `idle`: nothing waits, or the outlet is paused or gone. */
export type Worked =
  | { readonly kind: 'idle' }
  | { readonly kind: 'worked'; readonly taken: number; readonly refused: number };

/** What a step works with. */
export interface WorkTools {
  readonly store: Store;
  readonly now: () => Instant;
  readonly signal: AbortSignal;
}

/** What one step has read. */
interface Piece {
  readonly row: StoredOutlet;
  /** The cursor once it is dealt with. */
  readonly to: number;
  readonly chosen: readonly Chosen[];
  readonly passedOver: readonly LoggedVersion[];
  readonly bodies: ReadonlyMap<ReadingId, ComposedReading>;
}

/** Does one step. Rejects with what the outlet or the store threw; then the same piece comes again. */
export async function workOff(outletNo: number, open: OpenOutlet, tools: WorkTools): Promise<Worked> {
  const { store } = tools;
  const piece = store.db.read(() => readPiece(outletNo, open, store));
  if (!piece) return { kind: 'idle' };
  const { row, to, chosen, passedOver } = piece;
  const sent = chosen.filter((c) => piece.bodies.has(c.reading));
  const deliveries = store.db.write(() => {
    store.outlets.offer(outletNo, chosen.at(-1)?.seq ?? 0, passedOver);
    return sent.flatMap((c) => deliveryOf(c, piece, open, store) ?? []);
  });
  const results = deliveries.length === 0 ? [] : await open.outlet.send(deliveries, tools.signal);
  if (results.length !== deliveries.length)
    throw new Fault('INTERNAL', `Outlet ${row.name} did not answer for each reading`, 'Please report this.');
  const refused = sent.flatMap((c, i) => {
    const result = results[i];
    return result?.kind === 'refused' ? { ...c, reason: result.reason } : [];
  });
  const taken = sent.filter((_, i) => results[i]?.kind === 'taken');
  // Nothing more can be tried with a reading of which nothing is left.
  const dropped = chosen.filter((c) => !piece.bodies.has(c.reading));
  store.outlets.settle({ outletNo, from: row.cursor, to, taken, refused, dropped, at: tools.now() });
  return { kind: 'worked', taken: taken.length, refused: refused.length };
}

/** Reads the next piece: what was set aside and is to be tried again first, then the log. */
function readPiece(outletNo: number, open: OpenOutlet, store: Store): Piece | undefined {
  const row = store.outlets.get(outletNo);
  if (row?.state !== 'running') return undefined;
  const { outlet, filter } = open;
  const again = store.outlets
    .setAside(outletNo)
    .filter((aside) => aside.again)
    .flatMap((aside) => store.outgoing.row(aside) ?? [])
    // Of the others a newer version comes by itself.
    .filter((logged) => logged.version === logged.newest)
    .slice(0, outlet.batchSize);
  const rows = again.length > 0 ? again : store.outgoing.page(row.cursor, outlet.batchSize);
  const last = rows.at(-1);
  if (!last) return undefined;
  const { deliveries, passedOver } = choose(rows, filter, toldOf(row, rows, store));
  return {
    row,
    to: again.length > 0 ? row.cursor : last.seq,
    chosen: deliveries,
    passedOver,
    bodies: store.outgoing.compose(deliveries.map((c) => c.reading)),
  };
}

/** What the outlet was told of the readings that are not new. */
function toldOf(row: StoredOutlet, rows: readonly LogRow[], store: Store): Told {
  const changed = [...new Set(rows.flatMap((r) => (r.version > 1 && r.version === r.newest ? [r.reading] : [])))];
  const versions = new Map<ReadingId, EarlierVersion[]>(changed.map((reading) => [reading, []]));
  if (changed.length === 0) return { offered: row.offered, gaps: new Set(), versions };
  for (const version of store.outgoing.versions(changed)) versions.get(version.reading)?.push(version);
  return { offered: row.offered, gaps: store.outlets.gaps(row.outletNo, changed), versions };
}

/** A delivery with its content, in disguise where the outlet is told no names. */
function deliveryOf(chosen: Chosen, piece: Piece, { key }: OpenOutlet, store: Store): Delivery | undefined {
  const body = piece.bodies.get(chosen.reading);
  if (!body) return undefined;
  const { seq, isWithdrawn, before } = chosen;
  if (key === undefined) return { seq, isWithdrawn, ...(before ? { before } : {}), reading: body.reading };
  const patientId = before?.patientId;
  const disguisedBefore = before && {
    ...before,
    ...(patientId === undefined ? {} : { patientId: pseudonym(key, 'person', patientId) }),
  };
  const dayZero = dayZeroOf(piece.row.outletNo, body, store);
  return {
    seq,
    isWithdrawn,
    ...(disguisedBefore ? { before: disguisedBefore } : {}),
    reading: disguise(body.reading, { key, dayZero }),
  };
}

function dayZeroOf(outletNo: number, { reading, patientNo, meterNo }: ComposedReading, store: Store): number {
  const subject = patientNo === undefined ? `m${meterNo}` : `p${patientNo}`;
  const at = reading.placement?.takenAt ?? reading.downloadedAt;
  return store.outlets.dayZero(outletNo, subject, dayNumberOf(at, reading.zone));
}
