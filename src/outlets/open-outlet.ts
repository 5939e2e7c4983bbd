/** Opens an outlet as it stands in the store, with its filter and the key of its pseudonyms. */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import type { StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import { DAY_ZERO, pseudonym } from './disguise.ts';
import { type OutletFilter, readFilter } from './filter.ts';
import { type Gateway, kindOf } from './kinds.ts';
import { readSecret } from './secret.ts';
import type { OpenOutlet } from './work-off.ts';

const Texts = z.record(z.string(), z.string());

/** The settings of a stored outlet, as they were given. */
export const settingsOf = ({ settings }: StoredOutlet): Record<string, string> => Texts.parse(JSON.parse(settings));

/** Opens it. Rejects with OUTLET_INVALID. */
export async function openOutlet(row: StoredOutlet, gateway: Gateway): Promise<OpenOutlet> {
  const filter = readFilter(row.filter);
  const key = keyOf(filter);
  const known = key === undefined ? gateway : disguisedGateway(gateway, key);
  const outlet = await kindOf(row.kind).open(settingsOf(row), known);
  return { outlet, filter, ...(key === undefined ? {} : { key }) };
}

/** A place and the day of sending lead to people as well: neither is told. */
const disguisedGateway = (gateway: Gateway, key: string): Gateway => ({
  ...gateway,
  ...(gateway.site === undefined ? {} : { site: pseudonym(key, 'site', gateway.site) }),
  zone: 'UTC',
  now: () => instant(DAY_ZERO * 86_400_000),
});

/** By this a key is known again without being kept. */
export const markOf = (key: string): string => pseudonym(key, 'mark', 'tallydock');

/** The key of the pseudonyms. A key other than the first one would make strangers of everybody. */
function keyOf({ deIdentified }: OutletFilter): string | undefined {
  if (!deIdentified) return undefined;
  const key = readSecret(deIdentified.secret);
  if (markOf(key) === deIdentified.mark) return key;
  throw new Fault(
    'OUTLET_INVALID',
    'The key of the pseudonyms is not the one that this outlet began with',
    'Bring the first key back; or remove the outlet and add it again: then everybody gets another pseudonym',
  );
}

/** A mark of a store, by which a receiver of many sites tells gateways apart. */
export function gatewayMark(store: Store): string {
  const made = store.db.statement<{ value: string }>("SELECT value FROM meta WHERE key = 'created_at'").get();
  return createHash('sha256')
    .update(`gateway ${made?.value ?? ''}`)
    .digest('hex')
    .slice(0, 16);
}
