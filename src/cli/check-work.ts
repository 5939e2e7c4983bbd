/** The work of `tallydock check`: looks, judges nothing itself, repairs nothing. */
import { existsSync } from 'node:fs';
import { asFault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { type Config, type DockConfig, isOnNetwork, parseConfig, readConfig } from '../dock/config.ts';
import { freeBytes, judgeSpace, spaceLimits } from '../dock/guards/disk-space.ts';
import { openToOthers } from '../dock/guards/file-rights.ts';
import { askTimeService } from '../dock/guards/time-service.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import { checkStore } from '../store/check-store.ts';
import { openStore } from '../store/open-store.ts';
import { listPorts, type SeenPort } from '../wire/transport/list-ports.ts';
import { lookAtBackups } from './check-backups.ts';
import {
  checkFault,
  clockFinding,
  type Finding,
  faultFinding,
  portFinding,
  rightsFinding,
  spaceFinding,
  storeFindings,
} from './check-findings.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { print, printJson } from './output.ts';
import { printable } from './table.ts';

/** Checks. Throws CHECK_FAILED where something must be done. */
export async function check(options: CommonOptions): Promise<void> {
  const findings = await findingsOf(dataFolderOf(options), instant(Date.now()));
  const shown = options.quiet ? findings.filter(({ state }) => state === 'do') : findings;
  if (options.json) await printJson({ good: checkFault(findings) === undefined, findings });
  else await print(shown.map(lineOf).join(''));
  const fault = checkFault(findings);
  if (fault) throw fault;
}

const lineOf = ({ state, about, message, next }: Finding): string =>
  `${printable(`${state.padEnd(9)}  ${about.padEnd(8)}  ${message}.${next === undefined ? '' : ` ${next}.`}`).replace(/\.\.$/, '.')}\n`;

/** Everything that was found in a data folder and on this PC. */
async function findingsOf(dir: string, now: Instant): Promise<Finding[]> {
  // Before the store is opened, which closes its file to others.
  const rights = existsSync(dir) ? rightsFinding(openToOthers(dir, process.platform)) : [];
  const { findings: store, seen } = lookAtStore(dir, now);
  const { findings: configured, config } = lookAtConfig(dir);
  const limits = spaceLimits(config.store);
  const free = await freeBytes(dir);
  return [
    ...store,
    spaceFinding(judgeSpace('plenty', free, limits), free, dir),
    ...rights,
    ...configured,
    ...lookAtProfiles(dir, config),
    ...(await lookAtPorts(config)),
    ...(await lookAtBackups(config.backup, dir, now)),
    clockFinding(await askTimeService(process.platform), now, seen),
  ];
}

/** The store's findings, and the latest moment that its audit chain has noted. */
function lookAtStore(dir: string, now: Instant): { findings: Finding[]; seen?: Instant } {
  try {
    const store = openStore({ dir, now, mustExist: true });
    try {
      const seen = store.audit.list().at(-1)?.at;
      return { findings: storeFindings(checkStore(store)), ...(seen === undefined ? {} : { seen }) };
    } finally {
      store.close();
    }
  } catch (thrown) {
    return { findings: [faultFinding('store', asFault(thrown))] };
  }
}

/** The config's finding, and what holds of it; the defaults where it is wrong. */
function lookAtConfig(dir: string): { findings: Finding[]; config: Config } {
  try {
    const config = readConfig(dir);
    const { length } = config.docks;
    const message =
      length === 0 ? 'in order, without docks' : `in order, with ${length} ${length === 1 ? 'dock' : 'docks'}`;
    return { findings: [{ state: 'good', about: 'config', message }], config };
  } catch (thrown) {
    return { findings: [faultFinding('config', asFault(thrown))], config: parseConfig('', '') };
  }
}

/** The user's own profile files, and the profiles that docks ask for. */
function lookAtProfiles(dir: string, { docks }: Config): Finding[] {
  try {
    const profiles = loadProfiles(dir);
    const names = new Set(profiles.all().map(({ name }) => name));
    const missing = [
      ...new Set(docks.flatMap(({ profile }) => (profile !== undefined && !names.has(profile) ? [profile] : []))),
    ];
    const wrong = profiles.wrong.map((fault) => faultFinding('profiles', fault));
    const unknown = missing.map(
      (name): Finding => ({
        state: 'do',
        about: 'profiles',
        message: `a dock asks for the profile "${name}", which is not there`,
        next: 'Correct the name in config.toml, or add the profile to the folder "meters"',
      }),
    );
    if (wrong.length + unknown.length > 0) return [...wrong, ...unknown];
    return [{ state: 'good', about: 'profiles', message: `${names.size} meter profiles` }];
  } catch (thrown) {
    return [faultFinding('profiles', asFault(thrown))];
  }
}

/** The docks' ports, seen or not. Opens none. */
async function lookAtPorts({ docks }: Config): Promise<Finding[]> {
  if (docks.length === 0) return [];
  const ports = await listPorts();
  return docks.map((dock) => portFinding(dock.name, portOf(dock), isSeen(dock, ports)));
}

const portOf = ({ usbSerial, path, port }: DockConfig): string =>
  port ?? path ?? `the adapter with the serial number ${usbSerial ?? ''}`;

function isSeen(dock: DockConfig, ports: readonly SeenPort[]): boolean | undefined {
  if (isOnNetwork(dock)) return undefined;
  const { usbSerial, path, port } = dock;
  if (usbSerial !== undefined) return ports.some(({ serialNumber }) => serialNumber === usbSerial);
  const name = port ?? path ?? '';
  // A name that the list does not show may still be a device, such as a link that stands for one.
  return ports.some((seen) => seen.path === name) || existsSync(name);
}
