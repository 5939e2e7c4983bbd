/** The work of `tallydock ports`. Opens no port. */
import { loadProfiles } from '../intake/profile-library.ts';
import type { MeterProfile } from '../wire/profile.ts';
import { listPorts, type SeenPort } from '../wire/transport/list-ports.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { faultLine, note, print, printJson } from './output.ts';
import { DEFAULT_PROFILE, recognise } from './port-choice.ts';
import { makeTable } from './table.ts';

/** Lists the ports. */
export async function showPorts(options: CommonOptions): Promise<void> {
  const profiles = loadProfiles(dataFolderOf(options));
  for (const fault of profiles.wrong) note(faultLine(fault));
  const ports = (await listPorts()).map((port) => ({ port, profile: recognise(port, profiles.all()) }));
  if (options.json) for (const { port, profile } of ports) await printJson(portJson(port, profile));
  else if (ports.length === 0) await print('No serial ports. Plug in the cable of the meter and look again.\n');
  else {
    const table = makeTable(['port', 'made by', 'usb id', 'profile']);
    await print(
      table.rows(
        ports.map(({ port, profile }) => [
          port.path,
          port.manufacturer ?? '',
          port.vendorId && port.productId ? `${port.vendorId}:${port.productId}` : '',
          profile?.name ?? `not recognised: ${DEFAULT_PROFILE} if you name it`,
        ]),
      ),
    );
  }
}

const portJson = (port: SeenPort, profile: MeterProfile | undefined): Record<string, unknown> => ({
  port: port.path,
  manufacturer: port.manufacturer ?? null,
  serial_number: port.serialNumber ?? null,
  vendor_id: port.vendorId ?? null,
  product_id: port.productId ?? null,
  profile: profile?.name ?? DEFAULT_PROFILE,
  recognised: profile !== undefined,
});
