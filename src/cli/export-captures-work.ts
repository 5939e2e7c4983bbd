/** The work of `tallydock export captures`. */
import { randomBytes } from 'node:crypto';
import { mkdirSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { Fault } from '../core/fault.ts';
import { maskCapture } from '../intake/mask-capture.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import { makePseudonyms } from '../intake/pseudonyms.ts';
import { writeWhole } from '../store/write-whole.ts';
import { formatCapture } from '../wire/capture-file.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { note, printJson } from './output.ts';
import { filterOf } from './reading-filter.ts';
import { withStore } from './with-store.ts';

/** The options of one call. */
export type ExportCapturesCall = CommonOptions & {
  readonly out: string;
  readonly meter?: string;
  readonly since?: string;
  readonly until?: string;
  readonly masked?: boolean;
};

/** Exports. Throws FILE_UNWRITABLE, or PROFILE_UNKNOWN where masking needs a profile that is not there. */
export function exportCaptures(options: ExportCapturesCall): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const { meter, since, until } = filterOf(options, zone);
    emptyFolder(options.out);
    const profiles = loadProfiles(dataFolderOf(options));
    // The key goes with this process: nobody can find out afterwards whose pseudonym it was.
    const pseudonyms = makePseudonyms(randomBytes(32));
    let files = 0;
    for (const captureNo of store.captures.taken()) {
      const { capture } = store.captures.load(captureNo);
      if (since !== undefined && capture.openedAt < since) continue;
      if (until !== undefined && capture.openedAt >= until) continue;
      if (meter !== undefined && !store.downloads.ofCapture(captureNo).some((d) => d.meterId === meter)) continue;
      const written = options.masked ? maskCapture(capture, profiles.get(capture.profile), pseudonyms) : capture;
      // Padded, so that a list of the folder gives them to `replay` in the order in which they were taken in.
      writeWhole(join(options.out, `${String(captureNo).padStart(6, '0')}.capture.jsonl`), formatCapture(written));
      files++;
    }
    if (options.json) await printJson({ folder: options.out, files, masked: options.masked === true });
    else if (!options.quiet)
      note(
        `Wrote ${files} ${files === 1 ? 'capture' : 'captures'}${options.masked ? ', masked,' : ''} to ${options.out}`,
      );
  });
}

/** Makes the folder. Refuses one with something in it: masked and unmasked captures must not lie side by side. */
function emptyFolder(folder: string): void {
  let names: string[];
  try {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    names = readdirSync(folder);
  } catch (cause) {
    throw new Fault('FILE_UNWRITABLE', `${folder} cannot be made or read`, 'Name a folder that you may write', {
      cause,
    });
  }
  if (names.length > 0) throw new Fault('FILE_UNWRITABLE', `${folder} is not empty`, 'Name a new or empty folder');
}
