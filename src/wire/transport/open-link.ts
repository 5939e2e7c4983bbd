/** Opens whatever port the person named: a device server on the network, else a serial port. */
import { Fault } from '../../core/fault.ts';
import type { OpenLink } from './link.ts';
import { isDeviceServer } from './port-names.ts';

/**
 * Chooses the transport by the port's name: `tcp://host:port`, or the path or name of a serial port. Throws CALL_WRONG
 * for a name that cannot be one.
 */
export const openLink: OpenLink = async (port, settings, events) => {
  if (port.trim() === '')
    throw new Fault('CALL_WRONG', 'No port was named', 'Name one, such as /dev/ttyUSB0, COM3 or tcp://host:port.');
  if (isDeviceServer(port)) return (await import('./tcp.ts')).openTcp(port, settings, events);
  return (await import('./serial.ts')).openSerial(port, settings, events);
};
