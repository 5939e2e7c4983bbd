/**
 * One conversation at a dock: the right talk for the meter's protocol and the purpose, over the port that is held
 * open, recorded from when it matters. What it recorded is sealed and taken in by the intake queue, not here.
 */
import type { MeterIdentity } from '../core/download.ts';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { steadyClock } from '../core/steady-clock.ts';
import { zoneOf } from '../core/zone.ts';
import { cutFault, stepFault } from '../intake/download-faults.ts';
import { openRecorder, type Recorder } from '../intake/recorder.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { Store } from '../store/store.ts';
import { astmTalk } from '../wire/astm/conversation.ts';
import { type Conversed, type ConverseOptions, converse } from '../wire/converse.ts';
import { lineTalk } from '../wire/line/conversation.ts';
import { linkSettingsOf } from '../wire/link-settings.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { SetClock, TalkProgress } from '../wire/talk.ts';
import type { OpenLink } from '../wire/transport/link.ts';
import type { DaemonHost } from './host.ts';
import { recordLate } from './late-recorder.ts';
import type { DaemonPace } from './pace.ts';
import type { Purpose } from './supervisor.ts';

/** What is wanted of one conversation. */
export interface SessionRequest {
  readonly port: string;
  readonly profile: MeterProfile;
  readonly zone: string;
  readonly setClock: SetClock;
  readonly purpose: Purpose;
  /** The meter to watch, and what it held. */
  readonly meter?: MeterIdentity | undefined;
  readonly held?: number | undefined;
  /** How long a meter that is asked over E1394 may take. */
  readonly waitMs?: number | undefined;
  /** How long one listening lasts. */
  readonly listenMs: number;
}

export interface SessionTools {
  readonly store: Store;
  readonly host: Pick<DaemonHost, 'now' | 'timers' | 'monotonicMs'>;
  readonly pace: DaemonPace;
  readonly open: OpenLink;
  /** Why nothing may be stored now, if so. */
  readonly guard: () => Fault | undefined;
  readonly onProgress: (progress: TalkProgress) => void;
  readonly signal: AbortSignal;
}

/** What a conversation left. */
export interface SessionEnd {
  /** What was recorded, not sealed yet; absent where nothing was worth it. */
  readonly recorder?: Recorder;
  readonly conversed?: Conversed;
  /** Why it broke. */
  readonly fault?: Fault;
  readonly closedAt: Instant;
}

type Driver = Omit<ConverseOptions<never>, 'talk'>;

/** Holds one conversation. Never rejects. */
export async function holdSession(request: SessionRequest, tools: SessionTools): Promise<SessionEnd> {
  const { port, profile, zone } = request;
  const { store, host, guard } = tools;
  const clock = host.monotonicMs && steadyClock(host.now, host.monotonicMs);
  const now = clock?.now ?? host.now;
  const noteStep = (): void => {
    const stepS = clock?.stepS();
    if (stepS !== undefined) late.recorder?.noteClockStep(stepS);
  };
  const late = recordLate((openedAt) => {
    const why = guard();
    if (why) throw why;
    return openRecorder(store, { port, profile: profile.name, zone, openedAt }, host.timers);
  });
  const driver: Driver = {
    open: tools.open,
    port,
    settings: linkSettingsOf(profile), // the port is open already
    now,
    timers: host.timers,
    onOpened: late.opened,
    record: late.record,
    async secure() {
      noteStep();
      late.secure();
      // Behind this point the meter's clock may be set, and nobody knows by now what time it is.
      const stepped = clock && stepFault(port, clock);
      if (stepped) throw stepped;
    },
    onProgress(progress) {
      if (progress.test || progress.phase === 'reading' || progress.phase === 'repairing') late.begin();
      else if (progress.phase === 'waiting' && profile.protocol === 'line') late.quiet();
      tools.onProgress(progress);
    },
    signal: tools.signal,
  };
  const left = (): Pick<SessionEnd, 'recorder'> => (late.recorder ? { recorder: late.recorder } : {});
  try {
    const why = request.purpose === 'read' ? guard() : undefined;
    if (why) throw why;
    const conversed = await talkOver(request, tools.pace, driver);
    noteStep();
    return { ...left(), conversed, closedAt: conversed.closedAt };
  } catch (thrown) {
    noteStep();
    return { ...left(), fault: asFault(thrown), closedAt: now() };
  }
}

function talkOver(request: SessionRequest, pace: DaemonPace, driver: Driver): Promise<Conversed> {
  const { profile, zone, setClock, purpose, meter, held, waitMs, listenMs } = request;
  if (profile.protocol === 'line') {
    const watches =
      purpose === 'watch' && meter ? { watches: { identity: meter, held: held ?? 0, everyMs: pace.helloMs } } : {};
    const { clockSettable } = profile;
    return converse({
      ...driver,
      talk: lineTalk({ zone: zoneOf(zone), setClock, clockSettable, staysDocked: true, ...watches }),
    });
  }
  // One that is only listened to is not asked, whatever its profile says.
  const isAsked = purpose === 'read' && profile.query;
  const wait = isAsked ? (waitMs === undefined ? {} : { waitMs }) : { waitMs: listenMs };
  return converse({
    ...driver,
    talk: astmTalk({ profile: isAsked ? profile : { ...profile, query: false }, ...wait }),
  });
}

/**
 * Why a conversation did not bring the whole memory; undefined where it did, or where a watched meter told nothing
 * new and nothing is wrong.
 */
export function sessionFault(port: string, end: SessionEnd, downloads: readonly StoredDownload[]): Fault | undefined {
  const { trouble } = end.conversed?.outcome ?? {};
  const said = end.fault ?? end.conversed?.fault ?? (trouble && new Fault(trouble.code, trouble.message, trouble.hint));
  const cut = downloads.find((download) => !download.complete);
  if (!cut) return said;
  return cutFault(port, cut, said, 'leave the meter docked, the rest is read by itself.');
}
