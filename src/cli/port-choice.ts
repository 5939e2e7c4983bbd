/** Which ports are collected, and with which profile each. Nobody's port is ever opened unasked. */
import { Fault } from '../core/fault.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import { DEFAULT_PROFILE, recognise } from '../intake/recognise.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { SeenPort } from '../wire/transport/list-ports.ts';
import { plainPortName } from '../wire/transport/port-names.ts';

export { DEFAULT_PROFILE, recognise } from '../intake/recognise.ts';

/** A port with the profile that it is read with. */
export interface ChosenPort {
  readonly port: string;
  readonly profile: MeterProfile;
}

/**
 * The ports named, or the one port that a profile recognises. A port that was named is read with the profile of the
 * call, else with the one that recognises it, else with the default. Throws PROFILE_UNKNOWN, or CALL_WRONG with the
 * ports that there are where none was named and the choice is not clear.
 */
export async function choosePorts(
  named: readonly string[],
  profileName: string | undefined,
  profiles: ProfileLibrary,
  listPorts: () => Promise<readonly SeenPort[]>,
  platform: NodeJS.Platform = process.platform,
): Promise<ChosenPort[]> {
  const asked = profileName === undefined ? undefined : profiles.get(profileName);
  if (named.length > 0) {
    // Listing costs time and is of use only where a port can be recognised.
    const canRecognise = asked === undefined && profiles.all().some((profile) => profile.usb.length > 0);
    const seen = canRecognise ? await listPorts() : [];
    return named.map((name) => {
      const port = plainPortName(name, platform);
      const found = seen.find((candidate) => candidate.path === port);
      const profile = asked ?? (found && recognise(found, profiles.all())) ?? profiles.get(DEFAULT_PROFILE);
      return { port, profile };
    });
  }
  const seen = await listPorts();
  const recognised = seen.flatMap((port) => {
    const profile = recognise(port, profiles.all());
    return profile ? [{ port: port.path, profile: asked ?? profile }] : [];
  });
  if (recognised.length === 1) return recognised;
  throw unclear(seen, recognised);
}

function unclear(seen: readonly SeenPort[], recognised: readonly ChosenPort[]): Fault {
  if (seen.length === 0)
    return new Fault(
      'CALL_WRONG',
      'No port was named and this computer shows no serial port',
      'Plug in the meter, or name its port',
    );
  const names = (recognised.length > 1 ? recognised.map((r) => r.port) : seen.map((s) => s.path)).join(', ');
  const what = recognised.length > 1 ? 'more than one port is recognised' : 'no profile recognises one';
  return new Fault('CALL_WRONG', `No port was named and ${what}; there are: ${names}`, 'Name the port of the meter');
}
