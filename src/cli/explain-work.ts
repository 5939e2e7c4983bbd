/** The work of `tallydock explain`: why a reading has its time, and where it came from, byte for byte. */
import { type Account, accountOf } from '../clock/account.ts';
import type { GapReport } from '../clock/gap-times.ts';
import type { PlaceResult } from '../clock/place.ts';
import type { Capture } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import { formatInstant, type Instant, instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import { placeWhole } from '../intake/placing.ts';
import { loadProfiles, type ProfileLibrary } from '../intake/profile-library.ts';
import { sightingsOf } from '../intake/sightings.ts';
import type { StoredDecision } from '../store/decisions.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { StoredPlacement } from '../store/placements.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import { decodeCapture } from '../wire/decode.ts';
import type { MeterProfile } from '../wire/profile.ts';
import type { ExplainOptions } from './clock-options.ts';
import { dataFolderOf } from './common-options.ts';
import { drawClock } from './draw-clock.ts';
import { print, printJson } from './output.ts';
import { localMinute, localSecond } from './plain-time.ts';
import { type RawSpan, rawSpanOf, showBytes } from './raw-bytes.ts';
import { readingJson, resultText } from './readings-work.ts';
import { printable } from './table.ts';
import { withStore } from './with-store.ts';

/** Explains one reading. Throws READING_UNKNOWN, and FILE_UNWRITABLE for the picture. */
export function explain(id: string, options: ExplainOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const reading = store.readings.get(id as ReadingId);
    if (!reading) throw unknown(id);
    const download = store.downloads.get(reading.firstDownload);
    if (!download) throw new Fault('INTERNAL', `${id} names no stored download`, 'Run "tallydock rebuild"');
    const profiles = loadProfiles(dataFolderOf(options));
    const profile = profiles.get(download.profile);
    const { capture } = store.captures.load(download.captureNo);
    const decode = (part: Capture) => decodeCapture(part, profile);
    const raw = rawSpanOf(capture, decode, download.ordinal, reading.record.place);
    const toldIn = sightingsOf(store, profiles, reading.id).map((sighting) => sighting.download);
    const placed = placeWhole(store, reading.meterNo, newestProfile(store, reading.meterNo, profiles), reading.id);
    const gap = placed.gaps.find((g) => g.gap.tests.some((test) => test.id === reading.id));
    const account = gap && reading.placement ? accountOf(gap, reading.id, reading.placement) : undefined;
    const versions = store.placements.versions(reading.id);
    const judged = store.judged.get(reading.id);
    const decisions = store.decisions.of([reading.id]);
    const told = { reading, judged, decisions, versions, download, capture, raw, toldIn, account };
    if (options.json) await printJson(explanationJson(told));
    else await print(explanationText(told, zone));
    if (options.svg === undefined) return;
    const title = `${reading.id} and the clock of ${reading.meter.model} ${reading.meter.id}`;
    const around = { ...stretchAround(placed, gap), pointOut: reading.id };
    await drawClock(options.svg, placed, { title, zone: zoneOf(download.zone), ...around }, options);
  });
}

/** The profile that a meter's newest download was read with: placing uses what it says of the clock. */
function newestProfile(store: Store, meterNo: number, profiles: ProfileLibrary): MeterProfile {
  const newest = store.downloads.list(meterNo).at(-1);
  if (!newest) throw new Fault('INTERNAL', 'A meter without downloads', 'Run "tallydock rebuild"');
  return profiles.get(newest.profile);
}

/** A picture shows the gap of the reading and the gaps beside it. */
function stretchAround(placed: PlaceResult, gap: GapReport | undefined): { from?: Instant; to?: Instant } {
  const at = gap ? placed.gaps.indexOf(gap) : -1;
  const from = placed.gaps[Math.max(0, at - 1)]?.gap.first?.at.lo;
  const to = placed.gaps[at + 1]?.gap.last?.at.hi ?? gap?.gap.last?.at.hi;
  return {
    ...(from === undefined ? {} : { from: instant(from) }),
    ...(to === undefined ? {} : { to: instant(to) }),
  };
}

/** All that is known of where a reading came from. */
interface Explanation {
  readonly reading: ListedReading;
  readonly judged: StoredJudged | undefined;
  readonly decisions: readonly StoredDecision[];
  readonly versions: readonly StoredPlacement[];
  readonly download: StoredDownload;
  readonly capture: Capture;
  /** Absent where the stored bytes no longer tell this test, which `rebuild` would report. */
  readonly raw: RawSpan | undefined;
  /** Every download that told it, in the order of their times. */
  readonly toldIn: readonly string[];
  /** How its time was reckoned; absent where no download ever saw the meter's clock. */
  readonly account: Account | undefined;
}

const BASIS = {
  lent: 'the meter was lent to them',
  keyed: 'the id was keyed into the meter and passes its check',
  confirmed: 'an operator said so',
} as const;

function whoseText({ reading, judged }: Explanation): string {
  const keyed = reading.record.patientId;
  if (reading.person && judged?.basis) return `${reading.person.id}: ${BASIS[judged.basis]}`;
  return keyed === undefined ? 'not known; no id was keyed in' : `not known; ${keyed} was keyed in`;
}

const DECIDED = { assign: 'assigned', release: 'released', void: 'struck out', level: 'control named' } as const;

/** Why it waits or waited, and what was decided about it. */
function judgedLines({ judged, decisions }: Explanation, zone: string): string[] {
  const holds = (judged?.holds ?? []).map(
    (h) => `  ${h.isReleased ? 'looked at' : 'waits'}: ${h.sentence} [${h.code}]`,
  );
  const decided = decisions.map((d) => {
    const why = d.reason === '' ? '' : `: ${d.reason}`;
    const undone = d.undone ? `; taken back ${localMinute(d.undone.at, zone)} by ${d.undone.by}` : '';
    return `  ${localMinute(d.at, zone)} ${DECIDED[d.kind]} by ${d.by}${why}${undone}`;
  });
  return [
    ...(holds.length > 0 ? ['', 'What is doubtful', ...holds] : []),
    ...(decided.length > 0 ? ['', 'What was decided', ...decided] : []),
  ];
}

const unknown = (id: string): Fault =>
  new Fault('READING_UNKNOWN', `There is no reading "${id}"`, 'Run "tallydock readings" for the ids that there are');

function explanationText(told: Explanation, zone: string): string {
  const { reading, versions, download, capture } = told;
  const { record, placement } = reading;
  const moment = (at: Instant | undefined): string =>
    at === undefined ? 'open' : `${localSecond(at, zone)} (${zone})`;
  const facts: [string, string][] = [
    ['meter', `${reading.meter.model} ${reading.meter.id}`],
    ['person', whoseText(told)],
    ['the meter said', record.meterTimeText || 'no time: its clock was not set'],
    ['best time', placement?.takenAt === undefined ? 'unknown' : moment(placement.takenAt)],
    ['no earlier than', moment(placement?.earliest)],
    ['no later than', moment(placement?.latest)],
    ['time is', placement?.basis ?? 'not yet placed'],
    ['why', placement?.reason ?? ''],
    ['strip lot', [record.lot, record.lotExpiry && `expires ${record.lotExpiry}`].filter(Boolean).join(', ')],
    ['operator', record.operator ?? ''],
    ['marks', [reading.shown, ...reading.flags].join(' ')],
  ];
  const lines = [`${reading.id}: ${resultText(reading)} (${record.kind})`];
  for (const [name, text] of facts) if (text) lines.push(`  ${name.padEnd(16)}${text}`);
  lines.push('', versions.length > 1 ? 'What was thought of its time, oldest first' : 'Its time was worked out once');
  for (const v of versions) lines.push(`  ${v.version}  after ${v.madeBy}: ${versionText(v, zone)}`);
  if (told.account) lines.push(...accountLines(told.account));
  lines.push(...judgedLines(told, zone));
  lines.push('', 'Where it came from');
  lines.push(`  download ${download.id} on ${capture.port}, ${moment(download.at)}, profile ${download.profile}`);
  if (told.toldIn.length > 1) lines.push(`  told in ${told.toldIn.length} downloads: ${told.toldIn.join(', ')}`);
  return `${[...lines, ...rawLines(told, zone)].map(printable).join('\n')}\n`;
}

function versionText(v: StoredPlacement, zone: string): string {
  const best = v.takenAt === undefined ? 'unknown' : localMinute(v.takenAt, zone);
  return `${best}, ${v.basis}. ${v.reason}`;
}

function accountLines({ zone, timeline, arithmetic, stories }: Account): string[] {
  return [
    '',
    `The time line, oldest first (times of ${zone})`,
    ...timeline.map((line) => `  ${line}`),
    '',
    'The sum',
    ...arithmetic.map((line) => `  ${line}`),
    '',
    stories.length > 1
      ? 'What can have happened to the clock in between; the estimate follows the first'
      : 'The clock in between',
    ...stories.map(({ words, ways }) => `  ${words}${ways > 1 ? ` (${ways} places for it are possible)` : ''}`),
  ];
}

function rawLines({ reading, raw }: Explanation, zone: string): string[] {
  if (!raw) return ['  its bytes were not found again in that download: run "tallydock rebuild"'];
  const place = reading.record.slot === undefined ? `place ${reading.record.place}` : `slot ${reading.record.slot}`;
  return [
    `  ${place}; bytes ${raw.from + 1} to ${raw.to} of what the meter sent, arrived ${localSecond(raw.at, zone)}:`,
    ...showBytes(raw.bytes).map((line) => `    ${line}`),
  ];
}

function explanationJson({
  reading,
  judged,
  decisions,
  versions,
  download,
  capture,
  raw,
  toldIn,
  account,
}: Explanation): Record<string, unknown> {
  const time = (at: Instant | undefined): string | null => (at === undefined ? null : formatInstant(at));
  return {
    person_basis: judged?.basis ?? null,
    holds: judged?.holds ?? [],
    decisions: decisions.map((d) => ({
      kind: d.kind,
      by: d.by,
      at: formatInstant(d.at),
      reason: d.reason,
      undone: d.undone ? { ...d.undone, at: formatInstant(d.undone.at) } : null,
    })),
    ...readingJson(reading),
    versions: versions.map((v) => ({
      version: v.version,
      made_by: v.madeBy,
      taken_at: time(v.takenAt),
      earliest: time(v.earliest),
      latest: time(v.latest),
      time_basis: v.basis,
      reason: v.reason,
      flags: v.flags,
    })),
    source: {
      download: download.id,
      at: formatInstant(download.at),
      port: capture.port,
      profile: download.profile,
      zone: download.zone,
      place: reading.record.place,
    },
    told_in: toldIn,
    account: account ?? null,
    raw: raw && {
      from: raw.from,
      to: raw.to,
      arrived_at: formatInstant(raw.at),
      data: Buffer.from(raw.bytes).toString('base64'),
    },
  };
}
