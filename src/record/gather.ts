/**
 * Gathers from the store what judging a reading needs, and hands it to the clinic's pure rules. Remembers within one
 * run what is the same for many readings: lends of a meter, people, the registers of lots and controls.
 */
import { outOfControlSpans, wasOutOfControl } from '../clinic/controls/standing.ts';
import { judge } from '../clinic/course/standing.ts';
import { targetAt } from '../clinic/course/target-at.ts';
import { type CoursePoint, type TimeSpan, targetOf, timeSpan } from '../clinic/facts.ts';
import type { HoldFacts } from '../clinic/holds/hold.ts';
import { inrFitsPt } from '../clinic/lots/inr-fit.ts';
import { lotState } from '../clinic/lots/strip-lot.ts';
import { type HandSpan, type Person, type Whose, whose } from '../clinic/people/whose.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import { localDay, localMinute } from '../core/local-words.ts';
import type { Standing } from '../core/outgoing.ts';
import { zoneOf } from '../core/zone.ts';
import type { StoredDecision } from '../store/decisions.ts';
import type { StoredTarget } from '../store/patients.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import { controlsOfMeter } from './control-tests.ts';

/** What was gathered of one reading. */
export interface Gathered {
  readonly holdFacts: HoldFacts;
  /** Absent for control tests, and where no people are registered. */
  readonly whose?: Whose;
  readonly levelNo?: number;
  /** The target in force at its time, where it is known whose it is. */
  readonly target?: { readonly low: string; readonly high: string };
  readonly standing?: Standing;
  /** Its leading value. */
  readonly leading: { readonly analyte?: string; readonly value?: number; readonly beyond?: '<' | '>' };
}

export interface Gatherer {
  of(reading: ListedReading, decisions: readonly StoredDecision[]): Gathered;
}

const MINUTE_MS = 60_000;

/** A gatherer for one run: what it remembers must not change while it is used. */
export function makeGatherer(store: Store, policy: Policy): Gatherer {
  const arePeopleRegistered = store.patients.count() > 0;
  const isRegisterUsed = store.lots.list().length > 0;
  const people = remember((no: number): Person | undefined => {
    const found = store.patients.byNumber(no);
    return found && { patientNo: no, id: found.id };
  });
  const byId = remember((id: string): Person | undefined => {
    const found = store.patients.find(id);
    return found && { patientNo: found.patientNo, id };
  });
  const targets = remember((no: number) => store.patients.targets(no));
  const lots = remember((lot: string) => store.lots.find(lot));
  const lends = remember((meterId: string) => store.lends.list({ meterId }));

  const hands = ({ meter }: ListedReading): HandSpan[] =>
    lends(meter.id)
      .filter((l) => l.model === undefined || l.model === meter.model)
      .flatMap((l) => {
        const person = people(l.patientNo);
        return person ? [{ person, from: l.from, ...(l.to === undefined ? {} : { to: l.to }) }] : [];
      });

  /** Persons expected around a moment, nearest first. */
  const expectedAt = (at: Instant | undefined): Person[] => {
    if (at === undefined) return [];
    const reach = policy.appointmentMinutes * MINUTE_MS;
    return store.appointments
      .between(instant(at - reach), instant(at + reach + 1))
      .sort((a, b) => Math.abs(a.at - at) - Math.abs(b.at - at))
      .flatMap((a) => people(a.patientNo) ?? []);
  };

  const whoseIs = (reading: ListedReading, decisions: readonly StoredDecision[]): Whose | undefined => {
    if (!arePeopleRegistered || reading.record.kind === 'control') return undefined;
    const { placement, record } = reading;
    const said = decisions.findLast((d) => d.kind === 'assign');
    const saidPerson = said?.kind === 'assign' && said.patientNo !== undefined ? people(said.patientNo) : undefined;
    const keyedPerson = record.patientId === undefined ? undefined : byId(record.patientId);
    return whose(
      {
        ...(placement?.earliest === undefined ? {} : { earliest: placement.earliest }),
        ...(placement?.latest === undefined ? {} : { latest: placement.latest }),
        ...(placement?.takenAt === undefined ? {} : { at: placement.takenAt }),
        lends: hands(reading),
        ...(record.patientId === undefined
          ? {}
          : { keyed: { id: record.patientId, ...(keyedPerson ? { person: keyedPerson } : {}) } }),
        expected: expectedAt(placement?.takenAt),
        ...(said ? { said: saidPerson ? { person: saidPerson } : {} } : {}),
      },
      policy.idCheck,
    );
  };

  /** The person's last clear values of the analyte before a moment, oldest first. */
  const courseBefore = (patientNo: number, analyte: string, at: Instant): number[] => {
    const { days, last } = policy.holds.farFromCourse;
    return store.judged
      .valuesBefore(patientNo, analyte, at, instant(at - days * DAY_MS), last)
      .map(({ value }) => value)
      .reverse();
  };

  const localDateIn = remember((zone: string) => {
    const local = zoneOf(zone);
    return (at: Instant): string => localDay(at, local);
  });
  const areControlsKnown = store.controls.list().length > 0;
  // One meter's control tests are judged once, and read for each strip lot.
  const spansOf = remember((zone: string) =>
    remember((meterNo: number) => {
      const judged = controlsOfMeter(store, meterNo, localDateIn(zone));
      return remember((lot: string | undefined) => outOfControlSpans(String(meterNo), lot, judged));
    }),
  );
  /** A sentence where control tests say that the meter and lot could not be trusted at a time. */
  const outOfControl = (reading: ListedReading, time: TimeSpan | undefined): string | undefined => {
    if (!areControlsKnown || time === undefined || reading.record.kind !== 'patient') return undefined;
    const found = wasOutOfControl(time, spansOf(reading.zone)(reading.meterNo)(reading.record.lot));
    if (found.was === 'no') return undefined;
    const since = localMinute(found.span.from, zoneOf(reading.zone));
    const was = found.was === 'yes' ? 'was' : 'may have been';
    return `The meter ${was} out of control since ${since}: ${found.span.sentence}`;
  };

  const lotStateOf = ({ record, zone }: ListedReading, at: Instant | undefined): HoldFacts['lotState'] => {
    const registered = record.lot === undefined ? undefined : lots(record.lot);
    if (at === undefined) return registered ? 'good' : 'unknown';
    return lotState(registered, localDateIn(zone)(at), record.lotExpiry);
  };

  /** A sentence where INR and PT of one test do not fit each other by the lot's figures. */
  const disagreementOf = ({ record }: ListedReading): string | undefined => {
    const { isi, mnpt } = (record.lot === undefined ? undefined : lots(record.lot)) ?? {};
    const inr = record.values.find((v) => v.analyte === 'INR')?.value;
    const pt = record.values.find((v) => v.analyte === 'PT')?.value;
    if (isi === undefined || mnpt === undefined || inr === undefined || pt === undefined) return undefined;
    const fit = inrFitsPt({ inr, pt, isi, mnpt });
    return fit.kind === 'does-not-fit' ? fit.sentence : undefined;
  };

  return {
    of(reading, decisions) {
      const { record, placement } = reading;
      const found = whoseIs(reading, decisions);
      const patientNo = found?.kind === 'known' ? found.person.patientNo : undefined;
      const time = timeSpan(placement ?? {});
      const leading = leadingOf(reading, policy);
      const { analyte, value } = leading;
      const told = record.values.find((v) => v.analyte === analyte);
      const isTargeted = analyte !== undefined && policy.targeted.includes(analyte);
      const known = patientNo === undefined ? [] : targets(patientNo);
      const target = isTargeted && time ? targetAt(known, time.at) : undefined;
      const isClinical = record.kind === 'patient' && time !== undefined && value !== undefined;
      const standing = isClinical ? standingOf(reading.id, time, leading, isTargeted ? known : [], policy) : undefined;
      const out = outOfControl(reading, time);
      const disagreement = disagreementOf(reading);
      const level = decisions.findLast((d) => d.kind === 'level');
      const course =
        isClinical && patientNo !== undefined && analyte !== undefined ? courseBefore(patientNo, analyte, time.at) : [];
      return {
        ...(found ? { whose: found } : {}),
        ...(level?.kind === 'level' ? { levelNo: level.levelNo } : {}),
        leading,
        ...(target ? { target: { low: target.low, high: target.high } } : {}),
        ...(standing === undefined ? {} : { standing }),
        holdFacts: {
          kind: record.kind,
          flags: reading.flags,
          values: record.values,
          ...(placement ? { placement } : {}),
          ...(arePeopleRegistered ? { whose: found ?? { kind: 'nobody' } } : {}),
          ...(record.lot === undefined ? {} : { lot: record.lot }),
          lotState: lotStateOf(reading, time?.at),
          isRegisterUsed,
          ...(told ? { leading: told } : {}),
          course,
          ...(disagreement === undefined ? {} : { disagreement }),
          ...(out === undefined ? {} : { outOfControl: out }),
        },
      };
    },
  };
}

const DAY_MS = 86_400_000;

function standingOf(
  id: string,
  time: TimeSpan,
  leading: Gathered['leading'],
  targets: readonly StoredTarget[],
  policy: Policy,
): Standing {
  const point: CoursePoint = {
    id,
    time,
    value: leading.value ?? 0,
    ...(leading.beyond ? { beyond: leading.beyond } : {}),
  };
  const critical = leading.analyte === undefined ? undefined : policy.critical[leading.analyte];
  return judge(point, targets.map(targetOf), critical ? { critical } : {}).standing;
}

/** Asks once for each key. */
function remember<K, T>(ask: (key: K) => T): (key: K) => T {
  const known = new Map<K, { readonly value: T }>();
  return (key) => {
    const found = known.get(key) ?? { value: ask(key) };
    known.set(key, found);
    return found.value;
  };
}

const VALUE = /^([<>]?)(\d+(?:\.\d+)?)$/;

/** The value by which a reading is judged: that of the analyte that targets are for, else its first. */
function leadingOf({ record }: ListedReading, policy: Policy): Gathered['leading'] {
  const chosen = record.values.find((v) => policy.targeted.includes(v.analyte)) ?? record.values[0];
  if (!chosen) return {};
  const read = VALUE.exec(chosen.value);
  const beyond = read?.[1];
  return {
    analyte: chosen.analyte,
    ...(read ? { value: Number(read[2]) } : {}),
    ...(beyond === '<' || beyond === '>' ? { beyond } : {}),
  };
}
