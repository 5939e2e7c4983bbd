/** Takes from the store what the report on control tests shows, as plain data. */

import type { JudgedControl } from '../clinic/controls/assess.ts';
import { type ControlDue, type ControlPlan, controlsDue } from '../clinic/controls/due.ts';
import { type ControlChart, leveyJennings } from '../clinic/controls/levey-jennings.ts';
import { type OutOfControlSpan, outOfControlSpans, wasOutOfControl } from '../clinic/controls/standing.ts';
import { timeSpan } from '../clinic/facts.ts';
import { CONTROL_PLAN_EIGHT_HOURS } from '../clinic/rules/control-plans.ts';
import { type Instant, instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import type { ShownStatus } from '../core/outgoing.ts';
import type { ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import { controlsOfMeter } from '../record/control-tests.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { StoredMeter } from '../store/meters.ts';
import { versionKey } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';

/** What a rule said of one control test, or why none could. */
export interface ControlVerdict {
  readonly reading: string;
  readonly takenAt: Instant;
  readonly kind?: 'liquid' | 'electronic';
  readonly outcome: JudgedControl['outcome'];
  readonly sentences: readonly string[];
}

/** A stretch out of control, and what was measured in it. */
export interface OutOfControlRow {
  readonly stripLot?: string;
  readonly span: OutOfControlSpan;
  /** Tests of people in it that count all the same: somebody released them, or their time became known later. */
  readonly counting: readonly InDoubt[];
  /** How many of them wait. */
  readonly waiting: number;
}

/** A value that counts though its meter was, or may have been, out of control. */
export interface InDoubt {
  readonly reading: string;
  readonly takenAt: Instant;
  readonly was: 'yes' | 'possibly';
  /** A person looked at the failed control and released it. */
  readonly isReleased: boolean;
  /** Outlets that have it. */
  readonly forwardedTo: readonly string[];
}

/** One meter. */
export interface MeterControls {
  readonly meterId: string;
  readonly model: string;
  readonly tests: number;
  /** Liquid and electronic ones are on charts of their own. */
  readonly charts: readonly ControlChart[];
  /** Those that were not simply accepted, newest first. */
  readonly verdicts: readonly ControlVerdict[];
  /** Of the strip lot in use. */
  readonly due: ControlDue;
  readonly stripLot?: string;
  readonly outOfControl: readonly OutOfControlRow[];
}

/** The whole of the report. */
export interface ControlsReport {
  readonly now: Instant;
  readonly zone: string;
  readonly plan: ControlPlan;
  /** Meters of which a control test is known. */
  readonly meters: readonly MeterControls[];
  /** Meters that were used without any control test that is known. */
  readonly never: readonly string[];
}

/** What to gather. */
export interface ControlsAsk {
  readonly now: Instant;
  readonly zone: string;
  /** Whether the filter of an outlet, as the store has it, lets a value through: outlets know how to read theirs. */
  readonly wants: (filter: string, value: { readonly status: ShownStatus; readonly meterId: string }) => boolean;
}

/** Gathers it. */
export function gatherControls(store: Store, ask: ControlsAsk): ControlsReport {
  const { now, zone } = ask;
  const local = zoneOf(zone);
  const plan = CONTROL_PLAN_EIGHT_HOURS;
  const localDate = (at: Instant): string => localDay(at, local);
  const all = store.meters.list();
  const meters = all.flatMap((meter): MeterControls[] => {
    const judged = controlsOfMeter(store, meter.meterNo, localDate);
    return judged.length === 0 ? [] : [meterControls(store, meter, judged, plan, ask)];
  });
  const controlled = new Set(meters.map((m) => `${m.model} ${m.meterId}`));
  return {
    now,
    zone,
    plan,
    meters,
    never: all.flatMap((m) => (controlled.has(`${m.model} ${m.id}`) ? [] : [m.id])),
  };
}

function meterControls(
  store: Store,
  { meterNo, id, model }: StoredMeter,
  judged: readonly JudgedControl[],
  plan: ControlPlan,
  { now, wants }: ControlsAsk,
): MeterControls {
  const name = String(meterNo);
  const tests = store.judged.list({ meterNo, kind: 'patient' }).filter((t) => t.status !== 'void');
  const stripLot = tests.findLast((t) => t.lot !== undefined && (t.takenAt ?? now) <= now)?.lot;
  const ofLot = tests.filter((t) => t.lot === stripLot).flatMap((t) => t.takenAt ?? []);
  const lots = [...new Set(tests.map((t) => t.lot))];
  return {
    meterId: id,
    model,
    tests: judged.length,
    charts: leveyJennings(judged).map((chart) => ({ ...chart, meter: id })),
    verdicts: judged
      .filter((c) => c.outcome !== 'accept')
      .map(verdictOf)
      .toReversed(),
    due: controlsDue(plan, { meter: name, stripLot, judged, tests: ofLot, now }),
    ...(stripLot !== undefined && { stripLot }),
    outOfControl: lots.flatMap((lot) =>
      outOfControlSpans(name, lot, judged).flatMap((span): OutOfControlRow[] => {
        const found = inSpan(
          tests.filter((t) => t.lot === lot),
          span,
        );
        return [
          {
            ...(lot !== undefined && { stripLot: lot }),
            span,
            counting: found
              .filter(({ test }) => test.status !== 'held')
              .map(({ test, was }) => inDoubt(test, was, forwardedTo(store, test.reading, id, wants))),
            waiting: found.filter(({ test }) => test.status === 'held').length,
          },
        ];
      }),
    ),
  };
}

function verdictOf({ reading, kind, outcome, fired, match }: JudgedControl): ControlVerdict {
  const unassigned =
    match.kind === 'unassigned' && fired.length === 0
      ? [
          match.why === 'no-level'
            ? 'No control is registered that it could have been.'
            : 'It could have been several controls: say which.',
        ]
      : [];
  return {
    reading: reading.id,
    takenAt: reading.time.at,
    ...(kind && { kind }),
    outcome,
    sentences: [...fired.map((f) => f.sentence), ...unassigned],
  };
}

function inSpan(tests: readonly StoredJudged[], span: OutOfControlSpan) {
  return tests.flatMap((test) => {
    const time = timeSpan(test);
    const found = time ? wasOutOfControl(time, [span]) : undefined;
    return found && found.was !== 'no' ? [{ test, was: found.was }] : [];
  });
}

function inDoubt(test: StoredJudged, was: InDoubt['was'], forwardedTo: readonly string[]): InDoubt {
  return {
    reading: test.reading,
    takenAt: timeSpan(test)?.at ?? instant(0),
    was,
    isReleased: test.holds.some((h) => h.code === 'control-failed' && h.isReleased),
    forwardedTo,
  };
}

/** Outlets that have, or may have, a version of a reading: it passed their filter and lay behind what they were offered. */
function forwardedTo(store: Store, reading: ReadingId, meterId: string, wants: ControlsAsk['wants']): string[] {
  const versions = store.outgoing.versions([reading]);
  return store.outlets.list().flatMap(({ outletNo, offered, filter, name }) => {
    const gaps = store.outlets.gaps(outletNo, [reading]);
    const has = versions.some(
      ({ seq, version, status }) =>
        seq <= offered && wants(filter, { status, meterId }) && !gaps.has(versionKey(reading, version)),
    );
    return has ? [name] : [];
  });
}
