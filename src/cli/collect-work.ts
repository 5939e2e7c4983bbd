/** The work of `tallydock collect`: all ports at once, each with its tally while it is read and its summary after. */
import type { MeterIdentity } from '../core/download.ts';
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import { readingId, type TestRecord } from '../core/reading.ts';
import { type Collected, collectPort } from '../intake/collect.ts';
import { readMemoryState } from '../intake/memory-json.ts';
import type { StoredDownload } from '../store/downloads.ts';
import { decodeCapture } from '../wire/decode.ts';
import type { SetClock, TalkProgress } from '../wire/talk.ts';
import { listPorts } from '../wire/transport/list-ports.ts';
import { openLink } from '../wire/transport/open-link.ts';
import { advance, makeLooksKnown, newProgress, progressLines } from './collect-progress.ts';
import { type DownloadFacts, summaryText } from './collect-summary.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone, readConfig } from './config.ts';
import { namingDaemon, readByDaemon } from './daemon-collect.ts';
import { downloadJson } from './downloads-work.ts';
import { makeLiveLines } from './live-lines.ts';
import { faultLine, note, print, printJson } from './output.ts';
import { type ChosenPort, choosePorts } from './port-choice.ts';
import { type Stroke, tallyStyle } from './tally.ts';
import { type Intake, withIntake } from './with-intake.ts';

/** The options of one call. */
export interface CollectCall extends CommonOptions {
  readonly profile?: string;
  readonly zone?: string;
  readonly baud?: number;
  readonly setClock?: SetClock;
  /** Seconds. */
  readonly wait?: number;
}

/** Collects from the ports named. Faults of single ports are said and counted in the exit code, not thrown. */
export async function collect(named: string[], options: CollectCall): Promise<void> {
  const folder = dataFolderOf(options);
  const zone = dockZone(options.zone, readConfig(folder));
  const twice = named.find((port, i) => named.indexOf(port) !== i);
  if (twice !== undefined) throw new Fault('CALL_WRONG', `Port ${twice} is named twice`, 'Name each port once');
  await withIntake(options, 'collect', { mustExist: false }, async (intake) => {
    const chosen = await choosePorts(named, options.profile, intake.profiles, listPorts);
    const stop = new AbortController();
    const onSignal = () => stop.abort();
    process.once('SIGINT', onSignal).once('SIGTERM', onSignal);
    const screen = makeScreen(intake, options);
    const byDaemon = readByDaemon({ folder, options, store: intake.store, signal: stop.signal });
    const byUs = async ({ port, profile }: ChosenPort): Promise<Collected> =>
      collectPort(
        {
          port,
          profile,
          zone,
          setClock: options.setClock ?? 'when-off',
          ...(options.baud === undefined ? {} : { baud: options.baud }),
          ...(options.wait === undefined ? {} : { waitMs: options.wait * 1000 }),
        },
        {
          ...intake,
          open: openLink,
          now: () => instant(Date.now()),
          monotonicMs: () => performance.now(),
          signal: stop.signal,
          onProgress: screen.follow(port),
        },
      );
    try {
      const results = await Promise.all(
        chosen.map(async (choice) => {
          const collected = (await byDaemon(choice.port)) ?? namingDaemon(await byUs(choice), folder);
          screen.done(choice.port);
          await tell(collected, intake, options);
          return collected;
        }),
      );
      process.exitCode = exitCodeOf(results);
    } finally {
      screen.clear();
      process.off('SIGINT', onSignal).off('SIGTERM', onSignal);
    }
  });
}

/** 0 if everything was read; 3 if something was read but not everything; else what stopped it. */
function exitCodeOf(results: readonly Collected[]): number {
  const isWhole = (r: Collected): boolean => r.downloads.length > 0 && r.downloads.every((d) => d.complete);
  if (results.every(isWhole)) return 0;
  if (results.some((r) => r.downloads.length > 0)) return 3;
  return Math.max(...results.map((r) => r.fault?.exitCode ?? 1));
}

/** The live part of the screen: one block for each port that is still being read. */
function makeScreen({ store }: Intake, options: CollectCall) {
  const live = makeLiveLines(options.quiet === true || options.json === true);
  const style = tallyStyle(process.env, process.platform);
  const ports = new Map<string, ReturnType<typeof newProgress>>();
  const draw = (): void => {
    const width = (process.stderr.columns || 80) - 1;
    live.show([...ports.values()].flatMap((port) => progressLines(port, performance.now(), style, width)));
  };
  return {
    /** Follows a port's conversation. */
    follow(port: string): (progress: TalkProgress) => void {
      ports.set(port, newProgress(port));
      let looksKnown: ((test: TestRecord) => boolean) | undefined;
      return (progress) => {
        if (progress.meter) looksKnown ??= makeLooksKnown(knownTests(store, progress.meter));
        ports.set(
          port,
          advance(ports.get(port) ?? newProgress(port), progress, performance.now(), looksKnown ?? (() => false)),
        );
        draw();
      };
    },
    /** Takes a port's block away, so that its summary can stand in its place. */
    done(port: string): void {
      ports.delete(port);
      live.clear();
    },
    clear: () => live.clear(),
  };
}

/** What the store thinks is in a meter's memory. */
function knownTests(store: Intake['store'], identity: MeterIdentity): TestRecord[] {
  try {
    const meter = store.meters.find(identity);
    const stored = meter && store.memory.get(meter.meterNo);
    if (!stored) return [];
    return readMemoryState(stored).sequence.flatMap((item) =>
      item.kind === 'test' && !item.gone ? [item.record] : [],
    );
  } catch {
    // Only the picture depends on it: the bytes must still come in. Settling meets the same fault and reports it.
    return [];
  }
}

/** Says what became of one port: the result on stdout, a fault on stderr. */
async function tell(collected: Collected, intake: Intake, options: CollectCall): Promise<void> {
  if (options.json) {
    const { port, downloads, fault } = collected;
    const said = fault && { code: fault.code, message: fault.message, hint: fault.hint };
    await printJson({ port, downloads: downloads.map(downloadJson), fault: said ?? null });
  } else {
    const style = tallyStyle(process.env, process.platform);
    const width = (process.stdout.columns || 80) - 1;
    for (const download of collected.downloads) await print(summaryText(factsOf(download, intake), style, width));
  }
  if (collected.fault) note(faultLine(collected.fault));
}

function factsOf(download: StoredDownload, { store, profiles }: Intake): DownloadFacts {
  const { id, meterNo, captureNo, ordinal } = download;
  const { capture } = store.captures.load(captureNo);
  const profile = profiles.get(capture.profile);
  const decoded = decodeCapture(capture, profile)[ordinal];
  const tests = [
    ...(decoded?.image ?? []).flatMap((item) => (item.kind === 'test' ? [item.test] : [])),
    ...(decoded?.fresh ?? []),
  ];
  // A reading is named after the download and the place in which it was first seen.
  const strokes = tests.map(
    (test): Stroke => ({ kind: test.kind, isNew: store.readings.get(readingId(id, test.place)) !== undefined }),
  );
  const before = store.downloads
    .list(meterNo)
    .filter((d) => d.id !== id && d.at <= download.at)
    .at(-1);
  const losses = store.incidents.list(meterNo).filter((incident) => incident.kind === 'power-loss');
  return {
    download,
    strokes,
    clock: store.downloads.clockEvents(id),
    capacity: store.meters.byNumber(meterNo).capacity,
    hasLostPower: losses.some((loss) => before === undefined || loss.latest === undefined || loss.latest > before.at),
    losesTargets: profile.targetsLostWithPower,
    isClockSettable: profile.clockSettable,
    now: instant(Date.now()),
  };
}
