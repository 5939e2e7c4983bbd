/**
 * Opens the store of a call for a command that takes something in: what a dead process left is finished first.
 */
import { DEFAULT_POLICY } from '../clinic/rules/policy.ts';
import { instant } from '../core/instant.ts';
import { loadProfiles, type ProfileLibrary } from '../intake/profile-library.ts';
import { recoverAbandoned } from '../intake/recover.ts';
import type { IntakeContext } from '../intake/take-in.ts';
import { judgeUnjudged } from '../record/judge.ts';
import { openStore } from '../store/open-store.ts';
import type { Store } from '../store/store.ts';
import { accountName } from './account-name.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { readConfig } from './config.ts';
import { faultLine, note } from './output.ts';

/** What a command that takes something in is handed. */
export interface Intake {
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  readonly context: IntakeContext;
}

/**
 * Runs `work` on the store of the data folder; a store that is not there is made, unless it must exist. `command` is
 * named in the audit chain.
 */
export async function withIntake(
  options: CommonOptions,
  command: string,
  opening: { readonly mustExist: boolean; readonly cacheKib?: number },
  work: (intake: Intake) => Promise<void>,
): Promise<void> {
  const folder = dataFolderOf(options);
  const profiles = loadProfiles(folder);
  for (const fault of profiles.wrong) note(faultLine(fault));
  const now = instant(Date.now());
  const policy = readConfig(folder).clinic ?? DEFAULT_POLICY;
  const context: IntakeContext = { now, actor: `${accountName()}: ${command}`, policy };
  const store = openStore({ dir: folder, now, ...opening });
  try {
    judgeUnjudged(store, policy, now);
    for (const left of recoverAbandoned(store, profiles, context)) {
      if ('fault' in left) note(faultLine(left.fault));
      else if (!options.quiet && left.taken.downloads.length > 0)
        note(
          `A download that was cut off by the end of its program has been kept: ${left.taken.downloads.map((d) => d.id).join(', ')}`,
        );
    }
    await work({ store, profiles, context });
  } finally {
    store.close();
  }
}
