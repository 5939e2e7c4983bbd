/**
 * Gathers from the store what judging a reading needs, and hands it to the clinic's pure rules. Remembers within one
 * run what is the same for many readings: lends of a meter, people, the registers of lots and controls.
 */
import type { HoldFacts } from '../clinic/holds/hold.ts';
import { type HandSpan, type Person, type Whose, whose } from '../clinic/people/whose.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { Standing } from '../core/outgoing.ts';
import type { StoredDecision } from '../store/decisions.ts';
import type { StoredTarget } from '../store/patients.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';

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

  return {
    of(reading, decisions) {
      const { record, placement } = reading;
      const found = whoseIs(reading, decisions);
      const patientNo = found?.kind === 'known' ? found.person.patientNo : undefined;
      const leading = leadingOf(reading, policy);
      const target = patientNo === undefined ? undefined : targetAt(targets(patientNo), placement?.takenAt);
      const lot = record.lot === undefined ? undefined : lots(record.lot);
      const lotState = 'good';
      return {
        ...(found ? { whose: found } : {}),
        leading,
        ...(target ? { target: { low: target.low, high: target.high } } : {}),
        holdFacts: {
          kind: record.kind,
          flags: reading.flags,
          values: record.values,
          ...(placement ? { placement } : {}),
          ...(arePeopleRegistered ? { whose: found ?? { kind: 'nobody' } } : {}),
          ...(record.lot === undefined ? {} : { lot: record.lot }),
          lotState: lotState ?? lot,
          isRegisterUsed,
          course: [],
        },
      };
    },
  };
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

/** The target in force at a moment: that with the newest beginning not after it. */
const targetAt = (targets: readonly StoredTarget[], at: Instant | undefined): StoredTarget | undefined =>
  at === undefined ? undefined : targets.findLast((t) => t.from <= at);

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
