/**
 * Deliveries as one FHIR transaction. Everything is conditional, so that the same bundle sent twice leaves what it left
 * the first time: `ifNoneExist` for what is told once, PUT with a search for what takes the place of an earlier version.
 * Pure.
 */
import type { Instant } from '../../core/instant.ts';
import type { Delivery } from '../outlet.ts';
import type { Json } from './fhir-json.ts';
import { type ResourceKey, type Systems, searchFor, uuidOf } from './keys.ts';
import { type Telling, tellDelivery } from './tell.ts';

/** The reference to a resource within one bundle. */
export const inBundle = (key: ResourceKey): string => `urn:uuid:${uuidOf(key)}`;

/** A transaction, ready to be written as JSON. */
export type Transaction = {
  readonly resourceType: 'Bundle';
  readonly type: 'transaction';
  readonly entry: readonly Json[];
};

/** The bundle of some deliveries, each reading at most once among them (FHIR refuses a bundle that names one twice). */
export function transactionOf(
  deliveries: readonly Delivery[],
  site: string,
  systems: Systems,
  now: Instant,
): Transaction {
  const tellings = new Map<string, Telling>();
  for (const delivery of deliveries)
    for (const telling of tellDelivery(delivery, { site, systems, refer: inBundle }, now)) {
      const url = inBundle(telling.key);
      if (!tellings.has(url)) tellings.set(url, telling);
    }
  return { resourceType: 'Bundle', type: 'transaction', entry: [...tellings].map(entryOf) };
}

function entryOf([fullUrl, { key, make, manner }]: [string, Telling]): Json {
  const search = searchFor(key);
  const request =
    manner === 'once'
      ? { method: 'POST', url: key.type, ifNoneExist: search }
      : { method: 'PUT', url: `${key.type}?${search}` };
  return { fullUrl, resource: make(), request };
}

/** Cuts a batch, in its order, into pieces in which no reading stands twice. */
export function withoutRepeats(batch: readonly Delivery[]): readonly (readonly Delivery[])[] {
  const pieces: Delivery[][] = [];
  let ids = new Set<string>();
  for (const delivery of batch) {
    if (pieces.length === 0 || ids.has(delivery.reading.id)) {
      pieces.push([]);
      ids = new Set();
    }
    pieces.at(-1)?.push(delivery);
    ids.add(delivery.reading.id);
  }
  return pieces;
}
