/** The settings of one call: `config.toml` of the data folder, and the zone of the dock. */
import { zoneOf } from '../core/zone.ts';
import type { Config } from '../dock/config.ts';

export { type Config, readConfig } from '../dock/config.ts';

/** The zone of a dock: the option if given, else the config's, else the computer's own. Throws ZONE_UNKNOWN. */
export function dockZone(option: string | undefined, config: Pick<Config, 'zone'>): string {
  return zoneOf(option ?? config.zone ?? new Intl.DateTimeFormat().resolvedOptions().timeZone).name;
}
