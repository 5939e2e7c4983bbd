/** The status of a daemon in plain sentences: what each dock does, since when, what is wrong and what to do. Pure. */
import { formatInstant, type Instant } from '../core/instant.ts';
import { isToLookAt } from '../dock/control/to-look-at.ts';
import type { DaemonStatus, DockStatus, OutletStatus } from '../dock/daemon.ts';
import { localMinute } from './plain-time.ts';
import { makeTable, printable } from './table.ts';

/** The whole status: a head, a row for each dock, and a line for everything that somebody should look at. */
export function statusText(status: DaemonStatus, zone: string): string {
  const { version, pid, startedAt, docks, outlets } = status;
  const head = `tallydock ${version} runs as process ${pid} since ${localMinute(startedAt, zone)} (${zone}).`;
  const table = makeTable(['dock', 'port', 'what it does', `since (${zone})`, 'last read', 'download']);
  const rows = docks.map((dock) => [
    dock.name,
    dock.port ?? '',
    doing(dock, zone),
    localMinute(dock.since, zone),
    dock.lastDownloadAt === undefined ? 'not yet' : localMinute(dock.lastDownloadAt, zone),
    dock.lastDownload ?? '',
  ]);
  const look = lookLines(status, zone);
  return [
    `${head}\n`,
    status.desk === undefined ? '' : `The desk is open at ${status.desk}\n`,
    '\n',
    table.rows(rows),
    outlets.length > 0 ? `\n${outletTable(outlets, zone)}` : '',
    look.length > 0 ? '\n' : '',
    ...look.map((line) => `${line}\n`),
  ].join('');
}

/** A row for each outlet: what waits, since when, what was refused. */
export const outletTable = (outlets: readonly OutletStatus[], zone: string): string =>
  makeTable(['outlet', 'kind', 'what it does', '>waiting', `oldest (${zone})`, '>refused', 'last sent']).rows(
    outlets.map((outlet) => [
      outlet.name,
      outlet.kind,
      outletDoing(outlet, zone),
      String(outlet.waiting),
      outlet.oldestAt === undefined ? '' : localMinute(outlet.oldestAt, zone),
      String(outlet.setAside),
      outlet.sentAt === undefined ? 'not yet' : localMinute(outlet.sentAt, zone),
    ]),
  );

function outletDoing({ state, trouble, nextTryAt, waiting }: OutletStatus, zone: string): string {
  if (state === 'paused') return 'is paused';
  if (trouble) return `cannot be reached${nextTry(nextTryAt, zone)}`;
  return waiting > 0 ? 'sends' : 'is up to date';
}

/** A line for each trouble and each warning: what, where, since when, what to do. */
export function lookLines({ docks, outlets, warnings }: DaemonStatus, zone: string): string[] {
  return [
    ...docks.flatMap((dock) => troubleLine(dock, zone)),
    ...outletLookLines(outlets, zone),
    ...warnings.map((warning) => printable(sentence(warning))),
  ];
}

/** The same of outlets: trouble, and readings that were refused. */
export const outletLookLines = (outlets: readonly OutletStatus[], zone: string): string[] => [
  ...outlets.flatMap((outlet) => troubleLine(outlet, zone)),
  ...outlets
    .filter(({ setAside }) => setAside > 0)
    .map(({ name, setAside }) =>
      printable(
        `${name}: its receiver refused ${setAside} ${setAside === 1 ? 'reading' : 'readings'}. ` +
          'Run "tallydock outlet list --refused" for the reasons.',
      ),
    ),
];

const troubleLine = ({ name, trouble }: DockStatus | OutletStatus, zone: string): string[] =>
  trouble
    ? [
        printable(
          `${name}: ${sentence(trouble.message)} ${sentence(trouble.hint)} ` +
            `[${trouble.code}, ${localMinute(trouble.at, zone)}]`,
        ),
      ]
    : [];

const sentence = (text: string): string => (/[.!?]$/.test(text) ? text : `${text}.`);

/** What a dock does, in words. */
export function doing(dock: DockStatus, zone: string): string {
  const meter = dock.meter ? `${dock.meter.model} ${dock.meter.id}` : 'a meter';
  switch (dock.phase) {
    case 'absent':
      return 'waits for its port';
    case 'opening':
      return 'opens its port';
    case 'identifying':
      return 'asks which meter is there';
    case 'reading':
      return `reads ${meter}${progress(dock)}`;
    case 'storing':
      return `stores what ${meter} told`;
    case 'setting':
      return `sets the clock of ${meter}`;
    case 'docked':
      return dock.meter ? `${meter} is read; new tests are taken at once` : 'is ready for a meter';
    case 'resting':
      return `${isToLookAt(dock) ? 'rests after trouble' : 'waits for a meter'}${nextTry(dock.nextTryAt, zone)}`;
  }
}

function progress({ read, held }: DockStatus): string {
  if (read === undefined) return '';
  return held === undefined ? `, ${read} tests so far` : `, ${read} of ${held} tests`;
}

const nextTry = (at: Instant | undefined, zone: string): string =>
  at === undefined ? '' : `; tries again at ${localMinute(at, zone)}`;

/** The status as one JSON document; absent facts are null. */
export function statusJson({ version, pid, startedAt, dataDir, desk, docks, outlets, warnings }: DaemonStatus): object {
  return {
    version,
    pid,
    started_at: formatInstant(startedAt),
    data_dir: dataDir,
    desk: desk ?? null,
    docks: docks.map((dock) => ({
      name: dock.name,
      port: dock.port ?? null,
      phase: dock.phase,
      since: formatInstant(dock.since),
      meter_id: dock.meter?.id ?? null,
      meter_model: dock.meter?.model ?? null,
      read: dock.read ?? null,
      held: dock.held ?? null,
      last_download: dock.lastDownload ?? null,
      last_download_at: instantOrNull(dock.lastDownloadAt),
      trouble: dock.trouble ? { ...dock.trouble, at: formatInstant(dock.trouble.at) } : null,
      next_try_at: instantOrNull(dock.nextTryAt),
    })),
    outlets: outlets.map(outletJson),
    warnings,
  };
}

/** An outlet as one JSON object; absent facts are null. */
export const outletJson = (outlet: OutletStatus): object => ({
  name: outlet.name,
  kind: outlet.kind,
  state: outlet.state,
  waiting: outlet.waiting,
  oldest_at: instantOrNull(outlet.oldestAt),
  set_aside: outlet.setAside,
  sent_at: instantOrNull(outlet.sentAt),
  trouble: outlet.trouble ? { ...outlet.trouble, at: formatInstant(outlet.trouble.at) } : null,
  next_try_at: instantOrNull(outlet.nextTryAt),
});

const instantOrNull = (at: Instant | undefined): string | null => (at === undefined ? null : formatInstant(at));
