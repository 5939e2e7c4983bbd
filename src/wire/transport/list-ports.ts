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
}

/** What the library tells of a port. */
interface ListedPort {
  readonly path: string;
  readonly manufacturer?: string | undefined;
  readonly serialNumber?: string | undefined;
  readonly vendorId?: string | undefined;
  readonly productId?: string | undefined;
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
  return {
    path,
    ...(manufacturer ? { manufacturer } : {}),
    ...(serialNumber ? { serialNumber } : {}),
    ...(vendorId ? { vendorId: vendorId.toLowerCase() } : {}),
    ...(productId ? { productId: productId.toLowerCase() } : {}),
  };
}

// USB adapters, modems and built-in ports on Linux and macOS; terminals and pseudo-terminals are none.
const SERIAL_NAME = /^(tty(USB|ACM|AMA|S|XRUSB|GS)\d+|rfcomm\d+|cu\..+)$/;

async function fromDeviceNames(sources: PortSources): Promise<SeenPort[]> {
  const names = await sources.deviceNames().catch(() => []); // Windows has no such folder
  return names.filter((name) => SERIAL_NAME.test(name)).map((name) => ({ path: `/dev/${name}` }));
}
