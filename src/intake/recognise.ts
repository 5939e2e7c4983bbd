/** Which profile a port is read with where nobody says. */
import type { MeterProfile } from '../wire/profile.ts';
import type { SeenPort } from '../wire/transport/list-ports.ts';

/** What a port is read with where nobody says and nothing recognises it. */
export const DEFAULT_PROFILE = 'tlp-generic';

/** The profile that recognises a port by its USB ids, if exactly one does. */
export function recognise(port: SeenPort, profiles: readonly MeterProfile[]): MeterProfile | undefined {
  const fitting = profiles.filter((profile) =>
    profile.usb.some((usb) => usb.vendorId === port.vendorId && usb.productId === port.productId),
  );
  return fitting.length === 1 ? fitting[0] : undefined;
}
