/** How the port of a meter is opened, by its profile. */
import type { MeterProfile } from './profile.ts';
import { LINK_DEFAULTS, type LinkSettings } from './transport/link.ts';

/** The settings of a meter's port. `baud`: the speed where it is not the profile's. */
export function linkSettingsOf({ serial }: Pick<MeterProfile, 'serial'>, baud?: number): LinkSettings {
  return { ...LINK_DEFAULTS, ...serial, baud: baud ?? serial.baud };
}
