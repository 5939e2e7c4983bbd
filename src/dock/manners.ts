/**
 * The ways in which the meter at a dock may speak: protocol profile and speed. Usually one; several only where the
 * config asks to detect. Nothing is guessed from bytes: a manner is proven when a meter names itself in a line or
 * frame whose sum is right.
 */
import type { ProfileLibrary } from '../intake/profile-library.ts';
import { DEFAULT_PROFILE, recognise } from '../intake/recognise.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { SeenPort } from '../wire/transport/list-ports.ts';
import { type DockConfig, isOnNetwork } from './config.ts';
import type { Manner } from './supervisor.ts';

/** A profile and the speed to try it with. */
export interface SpokenManner extends Manner {
  readonly profile: MeterProfile;
  readonly baud: number;
}

/** What is tried where no profile is given: which way round an E1394 meter sends cannot be told by any sum. */
const DETECTED = [DEFAULT_PROFILE, 'astm-generic-newest'];
/** The usual speeds of such meters, the most usual first. */
const SPEEDS = [9600, 19_200, 38_400, 115_200, 57_600, 4800, 2400, 1200];

/** The manners to try at a dock, in this order. Throws PROFILE_UNKNOWN or PROFILE_INVALID. */
export function mannersOf(
  dock: Pick<DockConfig, 'profile' | 'baud' | 'detect' | 'port'>,
  profiles: ProfileLibrary,
  seen: SeenPort | undefined,
): [SpokenManner, ...SpokenManner[]] {
  const recognised = seen && recognise(seen, profiles.all());
  const given = dock.profile === undefined ? recognised : profiles.get(dock.profile);
  const first = given ?? profiles.get(DEFAULT_PROFILE);
  const own = spoken(first, dock.baud ?? first.serial.baud);
  if (!dock.detect) return [own];
  const candidates = given ? [given] : DETECTED.map((name) => profiles.get(name));
  const isNetwork = isOnNetwork(dock); // its speed is set in the device server
  const speeds =
    isNetwork || dock.baud !== undefined ? [own.baud] : [own.baud, ...SPEEDS.filter((b) => b !== own.baud)];
  const all = speeds.flatMap((baud) => candidates.map((profile) => spoken(profile, baud)));
  return [own, ...all.filter((manner) => manner.profile !== own.profile || manner.baud !== own.baud)];
}

const spoken = (profile: MeterProfile, baud: number): SpokenManner => ({
  profile,
  baud,
  asks: profile.protocol === 'line' || profile.query,
  listens: profile.protocol === 'astm',
});
