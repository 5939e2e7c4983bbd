/**
 * One download from one port: opens the port, holds the conversation while every byte goes into the store, then takes
 * the capture in. Whatever happens on the way, what was read is kept.
 */
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { type SteadyClock, steadyClock } from '../core/steady-clock.ts';
import { zoneOf } from '../core/zone.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { Store } from '../store/store.ts';
import { astmTalk } from '../wire/astm/conversation.ts';
import { type Conversed, converse } from '../wire/converse.ts';
import { lineTalk } from '../wire/line/conversation.ts';
import { linkSettingsOf } from '../wire/link-settings.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { SetClock, TalkProgress } from '../wire/talk.ts';
import type { OpenLink } from '../wire/transport/link.ts';
import { cutFault, stepFault } from './download-faults.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { openRecorder, type Recorder } from './recorder.ts';
import { type IntakeContext, takeInCapture } from './take-in.ts';

/** What the person wants from one port. */
export interface CollectRequest {
  /** As the person named it: `/dev/ttyUSB0`, `COM3`, `tcp://host:port`. */
  readonly port: string;
  readonly profile: MeterProfile;
  /** IANA zone of the dock. */
  readonly zone: string;
  /** Speed of a serial line, where it is not the profile's. */
  readonly baud?: number;
  readonly setClock: SetClock;
  /** How long to wait for a meter that sends by itself, where it is not the protocol's. */
  readonly waitMs?: number;
}

/** What collecting works with. */
export interface CollectTools {
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  readonly context: IntakeContext;
  readonly open: OpenLink;
  /** True time, from the one who may read the clock. */
  readonly now: () => Instant;
  /** A clock that nobody can set, milliseconds since any fixed moment; absent where time is only simulated. */
  readonly monotonicMs?: () => number;
  readonly onProgress?: (progress: TalkProgress) => void;
  /** Aborting it ends the conversation politely; what was read is kept. */
  readonly signal?: AbortSignal;
}

/** What became of one port. */
export interface Collected {
  readonly port: string;
  /** One for each meter that named itself; usually one. */
  readonly downloads: readonly StoredDownload[];
  /** Why it did not begin, did not end, or (after a complete download) what did not work behind it. */
  readonly fault?: Fault;
}

/** Collects from one port. Never rejects: a fault is part of the answer. */
export async function collectPort(request: CollectRequest, tools: CollectTools): Promise<Collected> {
  const { store, profiles, context, monotonicMs } = tools;
  const clock = monotonicMs && steadyClock(tools.now, monotonicMs);
  const now = clock?.now ?? tools.now;
  let recorder: Recorder | undefined;
  /** The recording begins with the opening of the port, so that a port that cannot be opened leaves no trace. */
  const recording = (at: Instant): Recorder => {
    const { port, profile, zone } = request;
    recorder ??= openRecorder(store, { port, profile: profile.name, zone, openedAt: at });
    return recorder;
  };
  let conversed: Conversed | undefined;
  let fault: Fault | undefined;
  try {
    conversed = await talkTo(request, { ...tools, now }, recording, clock);
  } catch (thrown) {
    fault = asFault(thrown);
  }
  if (!recorder) return { port: request.port, downloads: [], ...(fault ? { fault } : {}) };
  try {
    if (clock) noteStep(recorder, clock);
    recorder.close(conversed?.closedAt ?? now());
    const { downloads } = takeInCapture(store, recorder.captureNo, profiles, context);
    const why = fault ?? whyNot(request.port, conversed, downloads) ?? (clock && stepFault(request.port, clock));
    return { port: request.port, downloads, ...(why ? { fault: why } : {}) };
  } catch (thrown) {
    // The bytes that reached the disk are there; the next start takes them in.
    return { port: request.port, downloads: [], fault: fault ?? asFault(thrown) };
  }
}

function talkTo(
  request: CollectRequest,
  tools: CollectTools,
  recording: (at: Instant) => Recorder,
  clock: SteadyClock | undefined,
): Promise<Conversed> {
  const { profile, zone, setClock, waitMs } = request;
  const { open, now, onProgress, signal } = tools;
  const driver = {
    open,
    port: request.port,
    settings: linkSettingsOf(profile, request.baud),
    now,
    onOpened: (at: Instant) => void recording(at),
    record: (chunk: Parameters<Recorder['record']>[0]) => recording(chunk.at).record(chunk),
    async secure() {
      const recorder = recording(now());
      if (clock) noteStep(recorder, clock);
      recorder.secure();
      // Behind this point the meter's clock may be set, and nobody knows by now what time it is.
      const stepped = clock && stepFault(request.port, clock);
      if (stepped) throw stepped;
    },
    ...(onProgress ? { onProgress } : {}),
    ...(signal ? { signal } : {}),
  };
  if (profile.protocol === 'line') {
    const { clockSettable } = profile;
    return converse({ ...driver, talk: lineTalk({ zone: zoneOf(zone), setClock, clockSettable }) });
  }
  return converse({ ...driver, talk: astmTalk({ profile, ...(waitMs === undefined ? {} : { waitMs }) }) });
}

/** The fault of a conversation: the port's own if it went away, else what the conversation says. */
function whyNot(
  port: string,
  conversed: Conversed | undefined,
  downloads: readonly StoredDownload[],
): Fault | undefined {
  const { trouble } = conversed?.outcome ?? {};
  const said = conversed?.fault ?? (trouble && new Fault(trouble.code, trouble.message, trouble.hint));
  const cut = downloads.find((download) => !download.complete);
  if (downloads.length === 0) return said ?? silent(port);
  if (!cut) return conversed?.outcome.complete ? troubleOnly(trouble) : said;
  return cutFault(port, cut, said, 'run the same command again to read the rest.');
}

const silent = (port: string): Fault =>
  new Fault('METER_SILENT', `No meter named itself on ${port}`, 'Wake the meter, check its cable, then try again');

/** A complete download stays complete when the port goes away behind it; what else did not work is still said. */
const troubleOnly = (trouble: Conversed['outcome']['trouble']): Fault | undefined =>
  trouble && new Fault(trouble.code, trouble.message, trouble.hint);

function noteStep(recorder: Recorder, clock: SteadyClock): void {
  const stepS = clock.stepS();
  if (stepS !== undefined) recorder.noteClockStep(stepS);
}
