/**
 * The serial ports of this PC, with what USB tells of them. Listing opens nothing. Where the system has no means to
 * tell more, the names of the devices are read from their folder.
 */
import { readdir } from 'node:fs/promises';

/** A port that was seen; USB ids are four lower-case hexadecimal digits. */
export interface SeenPort {
  readonly path: string;
  readonly manufacturer?: string;
  readonly serialNumber?: string;
  readonly vendorId?: string;
  readonly productId?: string;
  /** Names of the place where it is plugged in, or of the device itself, in the system's own words. */
  readonly places?: readonly string[];
}

/** What the library tells of a port. */
interface ListedPort {
  readonly path: string;
  readonly manufacturer?: string | undefined;
  readonly serialNumber?: string | undefined;
  readonly vendorId?: string | undefined;
  readonly productId?: string | undefined;
  readonly locationId?: string | undefined;
  readonly pnpId?: string | undefined;
}

/** The two sources, handed in so that tests can stand in for them. */
export interface PortSources {
  list(): Promise<readonly ListedPort[]>;
  deviceNames(): Promise<readonly string[]>;
}

const SYSTEM: PortSources = {
  list: async () => (await import('serialport')).SerialPort.list(),
  deviceNames: () => readdir('/dev'),
};

/** The ports seen now, in the order of their names. */
export async function listPorts(sources: PortSources = SYSTEM): Promise<SeenPort[]> {
  const ports = await sources.list().then(
    (listed) => listed.map(seenOf),
    () => fromDeviceNames(sources), // a Linux without udev, for one
  );
  return ports.sort((a, b) => a.path.localeCompare(b.path, 'en', { numeric: true }));
}

function seenOf(port: ListedPort): SeenPort {
  const { path, manufacturer, serialNumber, vendorId, productId } = port;
  const places = [port.locationId, port.pnpId].flatMap((place) => place || []);
  return {
    path,
    ...(manufacturer ? { manufacturer } : {}),
    ...(serialNumber ? { serialNumber } : {}),
    ...(vendorId ? { vendorId: vendorId.toLowerCase() } : {}),
    ...(productId ? { productId: productId.toLowerCase() } : {}),
    ...(places.length > 0 ? { places } : {}),
  };
}

// USB adapters, modems and built-in ports on Linux and macOS; terminals and pseudo-terminals are none.
const SERIAL_NAME = /^(tty(USB|ACM|AMA|S|XRUSB|GS)\d+|rfcomm\d+|cu\..+)$/;

async function fromDeviceNames(sources: PortSources): Promise<SeenPort[]> {
  return (await serialNames(sources)).map((name) => ({ path: `/dev/${name}` }));
}

/**
 * The names of the serial devices, in order: much cheaper than listing, and enough to see that nothing has changed.
 * None where the system has no such folder (Windows).
 */
export async function serialNames(sources: Pick<PortSources, 'deviceNames'> = SYSTEM): Promise<string[]> {
  const names = await sources.deviceNames().catch(() => []);
  return names.filter((name) => SERIAL_NAME.test(name)).sort();
}
