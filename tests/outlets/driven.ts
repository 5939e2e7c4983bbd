/** Feeds outlets from a made store in tests, and an outlet in memory that does what a test wants. */
import { Fault } from '../../src/core/fault.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import type { OutletFilter } from '../../src/outlets/filter.ts';
import type { Gateway } from '../../src/outlets/kinds.ts';
import type { Delivery, Outlet, SendResult } from '../../src/outlets/outlet.ts';
import { workOff } from '../../src/outlets/work-off.ts';
import type { Store } from '../../src/store/store.ts';
import { FIRST_TEST } from './made-store.ts';

/** When tests send. */
export const NOW: Instant = instant(FIRST_TEST + 400 * 86_400_000);

/** The gateway that feeds outlets in tests. */
export const GATEWAY: Gateway = { site: 'Port Alder', zone: 'Europe/Lisbon', mark: 'a mark', now: () => NOW };

/** Adds an outlet to a store; gives its number. */
export const addOutlet = (store: Store, name = 'record', filter: OutletFilter = {}, cursor = 0): number =>
  store.outlets.add({ name, kind: 'test', settings: '{}', filter: JSON.stringify(filter) }, cursor, 'rosa', NOW);

/** Works off what waits; gives how many were taken and refused. Rejects with what the outlet threw. */
export async function workOffAll(
  store: Store,
  outletNo: number,
  outlet: Outlet,
  filter: OutletFilter = {},
  key?: string,
  signal: AbortSignal = new AbortController().signal,
): Promise<{ taken: number; refused: number }> {
  const open = { outlet, filter, ...(key === undefined ? {} : { key }) };
  const sum = { taken: 0, refused: 0 };
  for (;;) {
    const worked = await workOff(outletNo, open, { store, now: () => NOW, signal });
    if (worked.kind === 'idle') return sum;
    sum.taken += worked.taken;
    sum.refused += worked.refused;
  }
}

export interface MemoryOutlet extends Outlet {
  /** Every delivery that it ever took, in order, repeats among them. */
  readonly taken: Delivery[];
  /** What it does next time; absent: it takes everything. */
  plan: ((batch: readonly Delivery[]) => 'down' | 'stored-then-down' | ((d: Delivery) => SendResult)) | undefined;
}

const TAKEN: SendResult = { kind: 'taken' };
export const down = (): Fault => new Fault('OUTLET_DOWN', 'The record system does not answer', 'It is tried again.');

/** An outlet in memory. */
export function memoryOutlet(batchSize = 3): MemoryOutlet {
  const outlet: MemoryOutlet = {
    taken: [],
    plan: undefined,
    batchSize,
    async send(batch) {
      const wanted = outlet.plan?.(batch) ?? (() => TAKEN);
      if (wanted === 'down') throw down();
      if (wanted === 'stored-then-down') {
        outlet.taken.push(...batch);
        throw down();
      }
      const results = batch.map(wanted);
      outlet.taken.push(...batch.filter((_, i) => results[i]?.kind === 'taken'));
      return results;
    },
    close: () => Promise.resolve(),
  };
  return outlet;
}

/** Deliveries in short: reading, version, `-` where it is withdrawn, and the version before. */
export const inShort = (deliveries: readonly Delivery[]): string[] =>
  deliveries.map(
    ({ reading, isWithdrawn, before }) =>
      `${reading.id} v${reading.version}${isWithdrawn ? ' withdrawn' : ''}${before ? ` before v${before.version} ${before.patientId ?? 'nobody'}` : ''}`,
  );
