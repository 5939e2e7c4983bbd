/** Opens whatever port the person named: a device server on the network, else a serial port. */
import type { OpenLink } from './link.ts';

/** Chooses the transport by the port's name: `tcp://host:port`, or the path or name of a serial port. */
export const openLink: OpenLink = async (port, settings, events) => {
  if (port.startsWith('tcp://')) return (await import('./tcp.ts')).openTcp(port, settings, events);
  return (await import('./serial.ts')).openSerial(port, settings, events);
};
