/** What `check` found, one finding a line: how each thing that was looked at is judged. Pure. */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { type SpaceLevel, spaceWarning } from '../dock/guards/disk-space.ts';
import type { OpenToOthers } from '../dock/guards/file-rights.ts';
import type { PcClock } from '../dock/guards/time-service.ts';
import type { StoreCheck } from '../store/check-store.ts';

/** `note`: worth knowing, nothing must be done. `not known`: it could not be looked at, which is not the same as good. */
export type FindingState = 'good' | 'note' | 'not known' | 'do';

export interface Finding {
  readonly state: FindingState;
  /** What was looked at, in one or two words. */
  readonly about: string;
  /** What was found, without a full stop. */
  readonly message: string;
  /** What to do now; always there where the state is `do`. */
  readonly next?: string;
}

const good = (about: string, message: string): Finding => ({ state: 'good', about, message });
const mustDo = (about: string, message: string, next: string): Finding => ({ state: 'do', about, message, next });

/** A fault as a finding. */
export const faultFinding = (about: string, { message, hint }: Fault): Finding => mustDo(about, message, hint);

/** The store and its audit chain. */
export function storeFindings({ problems, tally }: StoreCheck): Finding[] {
  const next = 'Do not delete anything: copy the data folder away, then restore the last good backup into a new one';
  const of = (isAudit: boolean) => problems.filter(({ part }) => (part === 'audit') === isAudit);
  const { capture = 0, reading = 0, audit = 0 } = tally.rows;
  return [
    ...of(false).map(({ message }) => mustDo('store', message, next)),
    ...(of(false).length === 0 ? [good('store', `whole: ${reading} readings from ${capture} conversations`)] : []),
    ...of(true).map(({ message }) =>
      mustDo(
        'audit',
        message,
        'Keep a copy of the store as it is, find out who changed it, then restore the last good backup',
      ),
    ),
    ...(of(true).length === 0 ? [good('audit', `unbroken: ${audit} entries`)] : []),
  ];
}

/** The room on the disk. */
export function spaceFinding(level: SpaceLevel, free: number | undefined, folder: string): Finding {
  const warning = spaceWarning(level, free, folder);
  if (warning) return mustDo('space', warning.message, warning.hint);
  if (free === undefined)
    return { state: 'not known', about: 'space', message: 'the system does not tell how much room is left' };
  return good('space', `${Math.floor(free / 1e6)} MB free`);
}

/** Who else may read the files. */
export function rightsFinding(open: readonly OpenToOthers[] | 'not known'): Finding[] {
  if (open === 'not known')
    return [{ state: 'not known', about: 'rights', message: 'who else may read the data folder cannot be told here' }];
  if (open.length === 0) return [good('rights', 'the data folder and the store are closed to other accounts')];
  return open.map(({ path, isFolder }) =>
    mustDo('rights', `other accounts of this PC may use ${path}`, `Run: chmod ${isFolder ? '700' : '600'} "${path}"`),
  );
}

/** The PC's own clock. `seen` is the latest moment that the audit chain has noted. */
export function clockFinding(clock: PcClock, now: Instant, seen: Instant | undefined): Finding {
  if (seen !== undefined && now < seen - CLOCK_BACK_MS)
    return mustDo(
      'clock',
      `this PC shows a time that is ${Math.round((seen - now) / 1000)} s before something it has already done`,
      'Set the clock of this PC right and switch its time service on; the times of tests rest on it',
    );
  switch (clock.kind) {
    case 'kept': {
      const off = clock.offByS === undefined ? '' : `, off by ${clock.offByS.toFixed(3)} s`;
      return good('clock', `kept right by ${clock.by}${off}`);
    }
    case 'not kept':
      return mustDo(
        'clock',
        `the clock of this PC is not kept right: ${clock.why}`,
        'Switch on "set time automatically" in the settings of this PC; the times of tests rest on it',
      );
    case 'not known':
      return {
        state: 'not known',
        about: 'clock',
        message: `whether the clock of this PC is right: ${clock.why}`,
        next: 'Compare it with a clock that you trust',
      };
  }
}

/** Seconds of difference between two processes that note things at once are no going back. */
const CLOCK_BACK_MS = 60_000;

/** A dock of the config, and whether its port is there; undefined where that cannot be seen without opening it. */
export function portFinding(dock: string, port: string, isSeen: boolean | undefined): Finding {
  const about = 'port';
  if (isSeen === undefined)
    return { state: 'not known', about, message: `${dock}: ${port} is reached over the network and was not opened` };
  if (isSeen) return good(about, `${dock}: ${port} is there`);
  // A meter with a plug of its own takes its port away with it: that alone is no trouble.
  return { state: 'note', about, message: `${dock}: ${port} is not there now`, next: 'Plug in its cable' };
}

/** The automatic backups. `newest` is absent where the folder holds none. */
export function backupFinding(
  wanted: { readonly folder: string; readonly everyHours: number } | undefined,
  newest: Instant | undefined,
  now: Instant,
): Finding {
  const about = 'backup';
  if (!wanted)
    return {
      state: 'note',
      about,
      message: 'no automatic backups are set up',
      next: 'Add [backup] with a folder on another disk to config.toml, or run "tallydock backup" often',
    };
  if (newest === undefined)
    return mustDo(
      about,
      `there is no backup in ${wanted.folder}`,
      'Look at the folder, then run "tallydock backup --keep 14" for it',
    );
  const hours = Math.floor((now - newest) / 3_600_000);
  // One that is being made, or a PC that was off for a night, is no trouble yet.
  if (hours >= 2 * wanted.everyHours + 12)
    return mustDo(
      about,
      `the newest backup is ${hours} hours old`,
      `Look at ${wanted.folder} and at the log of the daemon`,
    );
  return good(about, hours < 1 ? 'the newest is less than an hour old' : `the newest is ${hours} hours old`);
}

/** Whether the newest backup could be restored, as far as that could be tried. */
export function backupProofFinding(proof: BackupProof): Finding {
  const about = 'backup';
  switch (proof.kind) {
    case 'whole':
      return good(about, `the newest was opened and is whole: ${proof.readings} readings`);
    case 'not opened':
      return { state: 'not known', about, message: `whether the newest is whole: ${proof.why}` };
    case 'broken':
      return faultFinding(about, proof.fault);
  }
}

/** What came of a try to restore the newest backup. */
export type BackupProof =
  | { readonly kind: 'whole'; readonly readings: number }
  | { readonly kind: 'not opened'; readonly why: string }
  | { readonly kind: 'broken'; readonly fault: Fault };

/** The fault of a check that found something to do; undefined where there is nothing. */
export function checkFault(findings: readonly Finding[]): Fault | undefined {
  const count = findings.filter(({ state }) => state === 'do').length;
  if (count === 0) return undefined;
  return new Fault(
    'CHECK_FAILED',
    `${count} ${count === 1 ? 'thing needs' : 'things need'} somebody`,
    'Each line marked "do" says what to do',
  );
}
