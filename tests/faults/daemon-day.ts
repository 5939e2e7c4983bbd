/**
 * A day at the docks, compressed, with the real daemon as a program of its own that is killed without warning again
 * and again. Meters come, are tested, and go; after every kill the store is looked over as the next program would find
 * it. At the end every meter is read whole once more by a daemon that lives, and the store is held against the truth.
 */
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { chanceFrom } from '../../src/virtual/chance.ts';
import type { OnSent } from '../support/meter-dock.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { quietLife, type ShortLife, shortLife } from './daemon-lives.ts';
import { arrive, type DayPlace, dayMeters, dayPlaces, depart, isRead, nextFor, stay } from './day-docks.ts';
import { type DayMeter, judgeMeter } from './day-meters.ts';
import { type FoundStore, findStore, lostFrom, readingsOf } from './found-store.ts';
import { type KillMoment, killMoment } from './kill-moments.ts';

export interface DaemonDayOptions {
  readonly seed: number;
  readonly docks: number;
  /** Visits of meters to make, each of which ends with a whole download. */
  readonly visits: number;
  readonly kills: number;
  /** Called after every kill. */
  readonly onKill?: () => void;
}

/** Where a kill hit: the most delicate thing that the daemon was at. */
export type KillStage = 'taking in' | 'in a conversation' | 'recovering' | 'starting' | 'between conversations';

export interface DaemonDay {
  readonly kills: Readonly<Record<KillStage, number>>;
  /** Conversations that were being recorded when a kill came, at all docks together. */
  readonly cutConversations: number;
  readonly visits: number;
  readonly complete: number;
  readonly cut: number;
  readonly readings: number;
  /** Tests that were in a memory during a whole download, and those of them that the store has not. */
  readonly owed: number;
  readonly lost: number;
  readonly doubled: number;
  /** What was wrong, in plain words; empty where all held. */
  readonly problems: readonly string[];
}

/** Runs the day. The seed decides everything but how the machine's own clockwork falls out. */
export async function daemonDay(options: DaemonDayOptions): Promise<DaemonDay> {
  const { seed, visits } = options;
  const chance = chanceFrom(seed);
  const program = makeProgram();
  const problems: string[] = [];
  const kills = { 'taking in': 0, 'in a conversation': 0, recovering: 0, starting: 0, 'between conversations': 0 };
  let cutConversations = 0;
  let moment: KillMoment | undefined;
  const places = await dayPlaces(options.docks, () => listenFor(() => moment));
  const meters = dayMeters(places, seed);
  let found = findStore(program.data);
  let begun = 0;

  const exchange = (place: DayPlace, meter: DayMeter | undefined): void => {
    if (!meter) return;
    depart(place, found);
    meter.test();
    arrive(place, meter);
    begun++;
  };
  const lookOver = (when: string): void => {
    const before = found;
    found = findStore(program.data);
    const wrong = meters.flatMap((meter) => judgeMeter(meter, readingsOf(found, meter.id)).wrong);
    const lost = lostFrom(before, found).map((reading) => `${reading} was stored and is gone`);
    problems.push(...[...found.problems, ...wrong, ...lost].map((problem) => `${when}: ${problem}`));
  };

  const killedLives = async (): Promise<void> => {
    let startMs = 1000;
    for (let n = 1; n <= options.kills; n++) {
      // The visits are spread over the kills; the last visit of each meter comes when the killing is over.
      const due = Math.ceil(((visits - meters.length) * n) / options.kills);
      for (const place of places)
        if (!place.visit || (begun < due && isRead(place, found)))
          exchange(place, nextFor(place, places, meters, chance));
      const docked = places.flatMap(({ visit }) => (visit ? [visit.meter] : []));
      const life = await shortLife(program, (kill) => {
        moment = killMoment({
          chance,
          expectedBytes: docked.reduce((sum, meter) => sum + 150 + 95 * meter.held().length, 0),
          docked: docked.length,
          startMs,
          test: () => docked[chance.whole(0, docked.length - 1)]?.test(),
          kill,
        });
        return moment;
      });
      moment = undefined;
      if (life.startedMs !== undefined) startMs = (startMs * 4 + life.startedMs) / 5;
      if (life.end !== 'SIGKILL') problems.push(`life ${n}: the daemon ended with ${life.end}: ${life.said}`);
      const left = found.unfinished.length;
      lookOver(`kill ${n}`);
      kills[stageOf(life, left, found)]++;
      cutConversations += found.unfinished.filter(({ pid, sealed }) => pid === life.pid && !sealed).length;
      options.onKill?.();
    }
  };

  /** Everybody comes once more, a dockful at a time, to a daemon that lives. */
  const quietLives = async (): Promise<void> => {
    for (const place of places)
      if (isRead(place, found)) depart(place, found);
      else stay(place);
    for (let waiting = meters; waiting.length > 0 || begun < visits; ) {
      for (const place of places)
        if (!place.visit) exchange(place, nextFor(place, places, waiting.length > 0 ? waiting : meters, chance));
      const present = new Set(places.map(({ visit }) => visit?.meter));
      waiting = waiting.filter((meter) => !present.has(meter));
      const troubles = await quietLife(program, (docks) =>
        places.every(({ name, visit }) => {
          const dock = docks.find((candidate) => candidate.name === name);
          return !visit || (dock?.phase === 'docked' && (dock.lastDownloadAt ?? 0) >= visit.since);
        }),
      );
      problems.push(...troubles);
      lookOver('at the end');
      for (const place of places) {
        if (place.visit && !isRead(place, found)) problems.push(`${place.visit.meter.id} was not read whole at last`);
        depart(place, found);
      }
    }
  };

  try {
    writeConfig(program, places);
    await killedLives();
    await quietLives();
    if (found.unfinished.length > 0) problems.push(`${found.unfinished.length} conversations were never taken in`);
    problems.push(...(await complaints(program)));
  } finally {
    await Promise.all(places.map(({ dock }) => dock.close()));
    program.dispose();
  }
  const verdicts = meters.map((meter) => judgeMeter(meter, readingsOf(found, meter.id)));
  problems.push(...verdicts.flatMap(({ unsettled }) => unsettled));
  return {
    kills,
    cutConversations,
    visits: begun,
    complete: found.complete,
    cut: found.cut,
    readings: found.readings.length,
    owed: meters.reduce((sum, { owed }) => sum + owed.size, 0),
    lost: verdicts.reduce((sum, { lost }) => sum + lost, 0),
    doubled: verdicts.reduce((sum, { doubled }) => sum + doubled, 0),
    problems,
  };
}

const EOT = 0x04;

/** The protocols' own signs that a whole memory was told, sought in what came last: END with its count, and EOT. */
function listenFor(moment: () => KillMoment | undefined): OnSent {
  let last = '';
  return (data) => {
    const now = moment();
    now?.sent(data.length);
    const text = last + Buffer.from(data).toString('latin1');
    if (data.includes(EOT) || /END n=\d+ x=[^\n]*\n/.test(text)) {
      last = '';
      now?.told();
    } else last = text.slice(-60);
  };
}

function writeConfig(program: Program, places: readonly DayPlace[]): void {
  const docks = places.map(({ name, protocol, dock }) =>
    [
      '[[dock]]',
      `name = "${name}"`,
      `${dock.where.startsWith('tcp:') ? 'port' : 'path'} = "${dock.where}"`,
      ...(protocol === 'astm' ? ['profile = "astm-generic-newest"'] : []),
    ].join('\n'),
  );
  writeFileSync(join(program.data, 'config.toml'), ['zone = "UTC"', 'desk.port = 0', ...docks, ''].join('\n'));
}

/** `leftBefore`: conversations that the daemon found unfinished when it started. */
function stageOf({ pid, startedMs }: ShortLife, leftBefore: number, { unfinished }: FoundStore): KillStage {
  const own = unfinished.filter((capture) => capture.pid === pid);
  if (own.some(({ sealed }) => sealed)) return 'taking in';
  if (own.length > 0) return 'in a conversation';
  if (startedMs !== undefined) return 'between conversations';
  return leftBefore > 0 ? 'recovering' : 'starting';
}

/** What the program itself finds wrong with the store: `check`, and `rebuild` from the stored bytes. */
async function complaints(program: Program): Promise<string[]> {
  const check = await program.run('check', '--json');
  const { findings }: { findings: { state: string; about: string; message: string }[] } = JSON.parse(check.stdout);
  const store = findings.filter(({ about }) => about === 'store');
  const rebuild = await program.run('rebuild');
  return [
    ...(store.some(({ state }) => state === 'good') ? [] : ['check says nothing good of the store']),
    ...store.filter(({ state }) => state !== 'good').map(({ message }) => `check: ${message}`),
    ...(rebuild.code === 0 ? [] : [`rebuild ended with ${rebuild.code}: ${rebuild.stdout}${rebuild.stderr}`]),
  ];
}
