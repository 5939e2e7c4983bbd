/**
 * The meter profiles at hand: those that come with the program (protocols/meters/) and the user's own (DATA/meters/).
 */

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { asFault, Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';
import { BUILT_IN, type MeterProfile, parseProfile } from '../wire/profile.ts';

export interface ProfileLibrary {
  /**
   * The profile of this name. Throws PROFILE_UNKNOWN if there is none; but if one of the user's files is wrong, throws
   * that file's fault, since it may be the one that is meant.
   */
  get(name: string): MeterProfile;
  /** All good profiles, by name. */
  all(): MeterProfile[];
  /** The faults of the user's files that are wrong. */
  readonly wrong: readonly Fault[];
}

/** From src/intake/ and dist/intake/ alike. */
const OWN_DIR = fileURLToPath(new URL('../../protocols/meters/', import.meta.url));

/** Name of the user's profile folder inside the data folder. */
export const USER_METERS = 'meters';

/**
 * Loads all profiles. Throws where the program's own are missing or wrong (FILE_MISSING, FILE_UNREADABLE,
 * PROFILE_INVALID), or where the user's folder cannot be looked into (FILE_UNREADABLE). `ownDir` is where the first lie.
 */
export function loadProfiles(dataDir: string, ownDir: string = OWN_DIR): ProfileLibrary {
  const profiles = new Map<string, MeterProfile>();
  for (const file of jsonFiles(ownDir)) {
    const profile = readProfile(file);
    profiles.set(profile.name, profile);
  }
  const lacking = BUILT_IN.find((name) => !profiles.has(name));
  if (lacking !== undefined)
    throw new Fault('FILE_MISSING', `The meter profile "${lacking}" is not in ${ownDir}`, 'Install tallydock again.');
  const wrong: Fault[] = [];
  for (const file of jsonFiles(join(dataDir, USER_METERS))) {
    try {
      const profile = readProfile(file);
      if (profiles.has(profile.name))
        throw new Fault(
          'PROFILE_INVALID',
          `${file}: field "name": "${profile.name}" is taken by another profile`,
          'Give this profile a name of its own.',
        );
      profiles.set(profile.name, profile);
    } catch (thrown) {
      wrong.push(asFault(thrown));
    }
  }
  return libraryOf([...profiles.values()], wrong);
}

/** A library of given profiles. */
export function libraryOf(profiles: readonly MeterProfile[], wrong: readonly Fault[] = []): ProfileLibrary {
  const byName = new Map(profiles.map((profile) => [profile.name, profile]));
  return {
    get(name) {
      const profile = byName.get(name);
      if (profile) return profile;
      if (wrong[0]) throw wrong[0];
      const names = [...byName.keys()].sort().join(', ');
      throw new Fault(
        'PROFILE_UNKNOWN',
        `There is no meter profile "${name}"`,
        `Use one of: ${names}; or add a file to the folder "${USER_METERS}" beside the store.`,
      );
    },
    all: () => [...byName.values()].sort((a, b) => (a.name < b.name ? -1 : 1)),
    wrong,
  };
}

/** The JSON files of a folder, by name; none where the folder is missing. */
function jsonFiles(dir: string): string[] {
  try {
    return readdirSync(dir)
      .filter((name) => name.endsWith('.json'))
      .sort()
      .map((name) => join(dir, name));
  } catch (thrown) {
    if (systemCode(thrown) === 'ENOENT') return [];
    throw unreadable(dir, thrown);
  }
}

function readProfile(file: string): MeterProfile {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (thrown) {
    throw unreadable(file, thrown);
  }
  return parseProfile(text, file);
}

const unreadable = (path: string, cause: unknown): Fault =>
  new Fault('FILE_UNREADABLE', `${path} cannot be read`, 'Check that it belongs to you and may be read.', { cause });
