/**
 * Takes capture files as if they happened at the times written in them, in the order given. A file that is broken or
 * names an unknown profile stops the work with a Fault that names it; what came before stays.
 */

import { readFileSync } from 'node:fs';
import type { Capture } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';
import { fingerprint } from '../store/capture-pack.ts';
import { ownMark } from '../store/process-mark.ts';
import type { Store } from '../store/store.ts';
import { parseCapture } from '../wire/capture-file.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { type IntakeContext, type TakenIn, takeInCapture } from './take-in.ts';

/** What became of one file; `taken.already` where the store had this conversation before. */
export interface Replayed {
  readonly file: string;
  readonly taken: TakenIn;
}

/** Takes in the files one after the other and yields what became of each. */
export function* replayFiles(
  store: Store,
  files: readonly string[],
  profiles: ProfileLibrary,
  context: IntakeContext,
): Generator<Replayed, void> {
  for (const file of files) {
    const capture = parseCapture(readCaptureFile(file), file);
    checkProfile(capture, file, profiles);
    yield { file, taken: replayCapture(store, capture, profiles, context) };
  }
}

/**
 * Stores a capture from a file and takes it in. A conversation that the store has already changes nothing. Throws
 * what `takeInCapture` throws; the bytes are in the store by then.
 */
export function replayCapture(
  store: Store,
  capture: Capture,
  profiles: ProfileLibrary,
  context: IntakeContext,
): TakenIn {
  const sha256 = fingerprint(capture);
  // Asked and stored under one lock, so that two processes given the same file do not both store it.
  const captureNo = store.db.write(() => store.captures.find(sha256) ?? store.captures.add(capture, sha256, ownMark()));
  return takeInCapture(store, captureNo, profiles, context);
}

function checkProfile(capture: Capture, file: string, profiles: ProfileLibrary): void {
  try {
    profiles.get(capture.profile);
  } catch (thrown) {
    if (!(thrown instanceof Fault) || thrown.code !== 'PROFILE_UNKNOWN') throw thrown;
    throw new Fault('PROFILE_UNKNOWN', `${file}, line 1: ${thrown.message}`, thrown.hint, { cause: thrown });
  }
}

function readCaptureFile(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch (cause) {
    const isMissing = systemCode(cause) === 'ENOENT';
    throw isMissing
      ? new Fault('FILE_MISSING', `There is no file ${file}`, 'Check the name and the folder.', { cause })
      : new Fault('FILE_UNREADABLE', `${file} cannot be read`, 'Check that it is a file and may be read.', { cause });
  }
}
