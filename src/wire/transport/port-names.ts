/**
 * One name for one port, where a system knows several: every other part of the program may then compare names as they
 * stand. Pure.
 */

/** `COM12`, also as programs of Windows write it for ports above 9: `\\.\COM12`; capitals or not. */
const WINDOWS = /^(?:\\\\[.?]\\)?(com\d+)$/i;

/** The device of macOS that waits for a call; `cu` is the one that calls, of the same port. */
const WAITING = /^\/dev\/tty\./;

/**
 * The name by which a port is listed, compared and opened. On Windows `COM3`: the library adds what stands before it by
 * itself, and would not find the port where it stood there twice. On macOS the calling device, which does not wait for a
 * carrier. Anything else, a device server on the network too, is left as it is.
 */
export function plainPortName(name: string, platform: NodeJS.Platform): string {
  if (platform === 'win32') return WINDOWS.exec(name)?.[1]?.toUpperCase() ?? name;
  return platform === 'darwin' ? name.replace(WAITING, '/dev/cu.') : name;
}

/** Whether a name means a device server on the network, rightly written or not: no serial port begins so. */
export const isDeviceServer = (name: string): boolean => /^tcp:/i.test(name);
