/**
 * Judges readings: gathers what the store knows of each, asks the clinic's pure rules whose it is and whether it must
 * wait, and stores the outcome. What outlets are told makes a new version wherever it changed. Runs inside the
 * transaction of whatever changed: a download taken in, a lend, a decision. Judging twice changes nothing.
 */
import { timeSpan } from '../clinic/facts.ts';
import { groupBy } from '../clinic/group-by.ts';
import { type Hold, holdsOf } from '../clinic/holds/hold.ts';
import type { Whose } from '../clinic/people/whose.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { ShownStatus } from '../core/outgoing.ts';
import type { ReadingId } from '../core/reading.ts';
import type { StoredDecision } from '../store/decisions.ts';
import type { Judged, StoredHold, StoredJudged } from '../store/judged.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import { type Gatherer, makeGatherer } from './gather.ts';
import { digestOf } from './told.ts';

/** How many readings are looked at together. */
const TOGETHER = 500;

/**
 * Judges these readings, and with a control test among them what its meter measured since, for that is vouched for by
 * it. Ids that are no reading any more are retired. Gives how many have a new version.
 */
export function judgeReadings(store: Store, ids: readonly ReadingId[], policy: Policy, now: Instant): number {
  if (ids.length === 0) return 0;
  const controls = new Set(store.readings.controlsAmong(ids));
  const before = controlsOf(store, ids);
  // Control tests first: they vouch for the others.
  let changed = judgeThese(store, [...controls], policy, now);
  const others = new Set(ids.filter((id) => !controls.has(id)));
  for (const id of vouchedFor(store, [...before, ...controlsOf(store, [...controls])])) others.add(id);
  changed += judgeThese(store, [...others], policy, now);
  return changed;
}

/** The control tests among these, as they are judged now. */
const controlsOf = (store: Store, ids: readonly ReadingId[]): StoredJudged[] =>
  store.judged.of(ids).filter((j) => j.kind === 'control');

/** What the meters of these control tests may have measured since the first of them; none where no control is registered. */
function vouchedFor(store: Store, controls: readonly StoredJudged[]): ReadingId[] {
  if (controls.length === 0 || store.controls.list().length === 0) return [];
  const since = new Map<number, number>();
  for (const { meterNo, earliest, takenAt } of controls)
    since.set(meterNo, Math.min(since.get(meterNo) ?? Number.POSITIVE_INFINITY, earliest ?? takenAt ?? 0));
  return [...since].flatMap(([meterNo, from]) => store.judged.patientTestsSince(meterNo, instant(from)));
}

function judgeThese(store: Store, ids: readonly ReadingId[], policy: Policy, now: Instant): number {
  if (ids.length === 0) return 0;
  let changed = 0;
  const gatherer = makeGatherer(store, policy);
  for (let from = 0; from < ids.length; from += TOGETHER) {
    const some = ids.slice(from, from + TOGETHER);
    const readings = store.readings.list(some);
    const found = new Set(readings.map((r) => r.id));
    for (const id of some) if (!found.has(id)) store.judged.retire(id, now);
    const standing = store.decisions.of(some).filter((d) => !d.undone);
    const decisions = groupBy(standing, (d) => d.reading);
    // Oldest first: a reading is compared with the person's course before it.
    for (const reading of readings.sort((a, b) => momentOf(a) - momentOf(b) || a.position - b.position))
      if (store.judged.put(judge(gatherer, reading, decisions.get(reading.id) ?? [], policy), now)) changed += 1;
  }
  return changed;
}

function judge(
  gatherer: Gatherer,
  reading: ListedReading,
  decisions: readonly StoredDecision[],
  policy: Policy,
): Judged {
  const gathered = gatherer.of(reading, decisions);
  const holds = markReleased(holdsOf(gathered.holdFacts, policy.holds), decisions);
  const isVoid = decisions.some((d) => d.kind === 'void');
  const status: ShownStatus = isVoid ? 'void' : holds.some((h) => !h.isReleased) ? 'held' : reading.status;
  const { placement, record } = reading;
  const judged = {
    reading: reading.id,
    meterNo: reading.meterNo,
    kind: record.kind,
    ...personOf(gathered.whose),
    ...(gathered.levelNo === undefined ? {} : { levelNo: gathered.levelNo }),
    status,
    holds,
    ...(placement?.takenAt === undefined ? {} : { takenAt: placement.takenAt }),
    ...(placement?.earliest === undefined ? {} : { earliest: placement.earliest }),
    ...(placement?.latest === undefined ? {} : { latest: placement.latest }),
    ...(record.lot === undefined ? {} : { lot: record.lot }),
    ...gathered.leading,
    ...(gathered.standing === undefined ? {} : { standing: gathered.standing }),
  };
  return { ...judged, digest: digestOf(reading, judged, gathered) };
}

/**
 * Judges readings that never were, those of a store of an older program; and all of them again where the clinic has
 * changed its settings since they were judged.
 */
export function judgeUnjudged(store: Store, policy: Policy, now: Instant): void {
  judgeNew(store, policy, now);
  const settings = JSON.stringify(policy);
  const before = store.judged.settings();
  if (before === settings) return;
  store.db.write(() => {
    if (before !== undefined) {
      const ids = store.judged.list({}).map((j) => j.reading);
      judgeReadings(store, ids, policy, now);
      const detail = { readings: ids.length };
      store.audit.append({ at: now, actor: 'tallydock', action: 'settings-changed', subject: 'clinic', detail });
    }
    store.judged.noteSettings(settings);
  });
}

function judgeNew(store: Store, policy: Policy, now: Instant): void {
  if (store.judged.areAllJudged()) return;
  for (;;) {
    const ids = store.judged.unjudged(10 * TOGETHER);
    if (ids.length === 0) {
      store.judged.noteAllJudged();
      return;
    }
    store.db.write(() => judgeReadings(store, ids, policy, now));
  }
}

const momentOf = ({ placement }: ListedReading): number => timeSpan(placement ?? {})?.at ?? Number.POSITIVE_INFINITY;

function personOf(whose: Whose | undefined): Pick<Judged, 'patientNo' | 'basis' | 'proposedNo'> {
  if (whose?.kind === 'known') return { patientNo: whose.person.patientNo, basis: whose.basis };
  return whose?.kind === 'proposed' ? { proposedNo: whose.person.patientNo } : {};
}

/**
 * A reason counts as looked at where a release that stands names it. Whether a value is usual was looked at for the
 * person of then: once it is said to be another's, it waits for another look.
 */
function markReleased(holds: readonly Hold[], decisions: readonly StoredDecision[]): StoredHold[] {
  const assigned = decisions.findLastIndex((d) => d.kind === 'assign');
  const isReleased = ({ code }: Hold): boolean =>
    decisions.some((d, i) => d.kind === 'release' && d.holds.includes(code) && (code !== 'off-course' || i > assigned));
  return holds.map((hold) => ({ ...hold, isReleased: isReleased(hold) }));
}
