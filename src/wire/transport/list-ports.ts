/**
 * The serial ports of this PC, with what USB tells of them. Listing opens nothing. Where the system has no means to
 * tell more, the names of the devices are read from their folder.
 */
import { readdir, stat } from 'node:fs/promises';
import { plainPortName } from './port-names.ts';

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

/** Where it is learned, handed in so that tests can stand in for it. */
export interface PortSources {
  list(): Promise<readonly ListedPort[]>;
  deviceNames(): Promise<readonly string[]>;
  /** The number of a device's file: another one when the device was made anew under its old name. */
  deviceNumber(name: string): Promise<number>;
}

const SYSTEM: PortSources = {
  list: async () => (await import('serialport')).SerialPort.list(),
  deviceNames: () => readdir('/dev'),
  deviceNumber: async (name) => (await stat(`/dev/${name}`)).ino,
};

/** The ports seen now, in the order of their names. */
export async function listPorts(
  sources: Pick<PortSources, 'list' | 'deviceNames'> = SYSTEM,
  platform: NodeJS.Platform = process.platform,
): Promise<SeenPort[]> {
  const ports = await sources.list().then(
    (listed) => listed.map((port) => seenOf(port, platform)),
    () => fromDeviceNames(sources), // a Linux without udev, for one
  );
  return ports.sort((a, b) => a.path.localeCompare(b.path, 'en', { numeric: true }));
}

function seenOf(port: ListedPort, platform: NodeJS.Platform): SeenPort {
  const { manufacturer, serialNumber, vendorId, productId } = port;
  const places = [port.locationId, port.pnpId].flatMap((place) => place || []);
  return {
    path: plainPortName(port.path, platform),
    ...(manufacturer ? { manufacturer } : {}),
    ...(serialNumber ? { serialNumber } : {}),
    ...(vendorId ? { vendorId: vendorId.toLowerCase() } : {}),
    ...(productId ? { productId: productId.toLowerCase() } : {}),
    ...(places.length > 0 ? { places } : {}),
  };
}

// USB adapters, modems and built-in ports on Linux and macOS; terminals and pseudo-terminals are none.
const SERIAL_NAME = /^(tty(USB|ACM|AMA|S|O|WCH|MFD|XRUSB|GS)\d+|rfcomm\d+|cu\..+)$/;

/** The names of the serial devices. Rejects where the system has no folder of devices (Windows). */
const serialNames = async (sources: Pick<PortSources, 'deviceNames'>): Promise<string[]> =>
  (await sources.deviceNames()).filter((name) => SERIAL_NAME.test(name));

async function fromDeviceNames(sources: Pick<PortSources, 'deviceNames'>): Promise<SeenPort[]> {
  const names = await serialNames(sources).catch(() => []);
  return names.map((name) => ({ path: `/dev/${name}` }));
}

/**
 * A text that changes when a serial port comes, goes, or is made anew: much cheaper than listing, and enough to see
 * that nothing has changed. Undefined where the system has no cheap way (Windows).
 */
export async function portsMark(
  sources: Pick<PortSources, 'deviceNames' | 'deviceNumber'> = SYSTEM,
): Promise<string | undefined> {
  const names = await serialNames(sources).catch(() => undefined);
  if (!names) return undefined;
  // One that went between the two questions has no number, which is a change like any other.
  const marks = names.sort().map(async (name) => `${name} ${await sources.deviceNumber(name).catch(() => 'gone')}`);
  return (await Promise.all(marks)).join(', ');
}
