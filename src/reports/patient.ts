/** The page of the report on one person, made of what was gathered. Pure. Never a dose, never a diagnosis. */

import type { TimeInRangeOutcome } from '../clinic/course/time-in-range.ts';
import { targetOf } from '../clinic/facts.ts';
import { localDay, localMinute } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import { courseChart, openAfterDays, shownTests } from './course-chart.ts';
import { criticalSource, type PatientReport, type ValueRow } from './gather-patient.ts';
import {
  type Content,
  figure,
  glance,
  type Html,
  htmlPage,
  list,
  needsYou,
  paragraph,
  remark,
  type Section,
  strong,
  table,
} from './page.ts';
import { errorsSection, planSection, reassessmentSection, steadinessSection } from './patient-parts.ts';
import { countWords, percent, percentRange, standingWords, sureWords } from './plain-words.ts';

/** Makes the page; `printedAt` is in words. */
export function patientPage(report: PatientReport, printedAt: string): string {
  const { patient, course } = report;
  const zone = zoneOf(report.zone);
  const who = patient.name === undefined ? patient.id : `${patient.name} (${patient.id})`;
  return htmlPage({
    title: who,
    subtitle: subtitleOf(report),
    clinic: `Course of ${report.analyte}${course.period ? `, ${course.period.from} to ${course.period.until}` : ''}`,
    printedAt: `Made ${printedAt}`,
    running: who,
    sections: [
      courseSection(report, zone),
      waitingSection(report, zone),
      timeInRangeSection(report),
      reassessmentSection(course),
      planSection(course),
      steadinessSection(course),
      errorsSection(course, zone),
      valuesSection(report, zone),
      targetsSection(report, zone),
    ].filter((section) => section !== undefined),
  });
}

function subtitleOf({ patient, course, meters }: PatientReport): string {
  const { target, plan } = course;
  return [
    patient.birthYear === undefined ? '' : `born ${patient.birthYear}`,
    patient.reason ?? '',
    target ? `target ${target.low.toFixed(1)} to ${target.high.toFixed(1)}` : 'no target set',
    plan.everyDays === undefined ? '' : `a test every ${countWords(plan.everyDays, 'day')}`,
    meters.length === 0 ? '' : `meter ${meters.join(', ')}`,
  ]
    .filter(Boolean)
    .join(' · ');
}

function courseSection(report: PatientReport, zone: Zone): Section {
  const { course, values, targets, incidents, analyte } = report;
  const tests = shownTests(course);
  const last = tests.at(-1);
  const first = course.timeInRange[0];
  const chart = courseChart({
    course,
    targets: targets.map(targetOf),
    waiting: values.flatMap((row) => waitingPoint(row, analyte)),
    incidents,
    zone,
    analyte,
  });
  const body: Html[] = [
    glance([
      ...(last
        ? [
            {
              figure: `${last.test.beyond ?? ''}${last.test.value.toFixed(1)}`,
              says: `last ${analyte}, ${last.test.date}: ${standingWords(last.judgement.standing)}`,
            },
          ]
        : []),
      ...(first?.kind === 'known'
        ? [{ figure: shareOf(first), says: `of time in range (${first.rules.source.name})` }]
        : []),
      ...(course.testsInRange.fraction.kind === 'known'
        ? [{ figure: `${course.testsInRange.in} of ${course.testsInRange.judged}`, says: 'tests in range' }]
        : []),
      ...(course.plan.nextDate === undefined
        ? []
        : [
            {
              figure: course.plan.nextDate,
              says:
                course.plan.overdueDays > 0
                  ? `planned test, ${countWords(course.plan.overdueDays, 'day')} overdue`
                  : 'next planned test',
            },
          ]),
    ]),
    ...criticalWords(report, zone).map(needsYou),
  ];
  if (chart) {
    body.push(
      figure(
        chart,
        `Round: in the target band; pointing up: above it; pointing down: below it; doubled: critical; a ring: no target, or with a question mark: waits. The whisker reaches from the earliest to the latest moment at which the test can have been made. The line is open where no test was made for more than ${countWords(openAfterDays(course), 'day')}.`,
      ),
    );
  } else body.push(paragraph('There are no tests to draw.'));
  if (incidents.length > 0)
    body.push(
      table(
        ['notch', 'what happened to the clock of the meter'],
        incidents.map((i, n) => [n + 1, i.explanation]),
      ),
    );
  return { heading: 'The course', body };
}

/** So many critical values are named one by one; of more it is said how many there are. */
const NAMED = 5;

/** The critical values of the period, those that wait after those that count; newest first. */
function criticalWords({ course, values, analyte }: PatientReport, zone: Zone): string[] {
  const clear = course.critical.map(
    ({ test, judgement }) =>
      `${analyte} ${test.beyond ?? ''}${test.value.toFixed(1)} on ${localMinute(test.time.at, zone)} was ${standingWords(judgement.standing)}: confirm and act by local policy.`,
  );
  const waiting = values
    .filter((row) => row.status === 'held' && row.standing?.startsWith('critical'))
    .map(
      (row) =>
        `${valueText(row)} of ${whenText(row, zone)} waits and would be ${standingWords(row.standing ?? 'no-target')}: look at it first.`,
    );
  return [clear, waiting].flatMap((sentences, i) => [
    ...sentences.slice(0, NAMED),
    ...(sentences.length > NAMED ? [othersInWords(sentences.length - NAMED, i === 1)] : []),
  ]);
}

function othersInWords(count: number, wait: boolean): string {
  if (count === 1) return `1 older critical value ${wait ? 'waits and stands' : 'stands'} in the table of values.`;
  return `${count} older critical values ${wait ? 'wait and stand' : 'stand'} in the table of values.`;
}

function waitingPoint(row: ValueRow, analyte: string) {
  const text = row.values.find((v) => v.analyte === analyte)?.value.replace(/^[<>]/, '');
  const value = Number(text);
  return row.status === 'held' && row.time && text && Number.isFinite(value)
    ? [{ time: row.time, value, isCritical: row.standing?.startsWith('critical') === true }]
    : [];
}

function waitingSection({ values }: PatientReport, zone: Zone): Section | undefined {
  const waiting = values.filter((row) => row.status === 'held');
  if (waiting.length === 0) return undefined;
  return {
    heading: 'What waits',
    body: [
      needsYou(
        `${countWords(waiting.length, 'reading')} below ${waiting.length === 1 ? 'is' : 'are'} in no figure of this page until somebody has looked.`,
      ),
      table(
        ['time', 'value', 'why it waits'],
        waiting.map((row) => [whenText(row, zone), valueText(row), row.waits.join(' ')]),
      ),
    ],
  };
}

/** The share, with the range that the bounds of the times allow. */
function shareOf(outcome: Extract<TimeInRangeOutcome, { kind: 'known' }>): string {
  const { bounds, fraction } = outcome;
  if (bounds.kind !== 'known') return percent(fraction);
  return percentRange(Math.min(bounds.low, fraction), Math.max(bounds.high, fraction));
}

function timeInRangeSection({ course }: PatientReport): Section {
  const { timeInRange, testsInRange: t } = course;
  const days = (n: number): string => n.toFixed(1);
  const rows = timeInRange.map((outcome): Content[] => {
    const { name, edition } = outcome.rules.source;
    const rules = `${name}, ${edition}`;
    if (outcome.kind !== 'known') return [rules, outcome.sentence, '', '', '', ''];
    const range = outcome.bounds.kind === 'known' ? shareOf(outcome) : outcome.bounds.sentence;
    return [
      rules,
      percent(outcome.fraction),
      range,
      days(outcome.days.below),
      days(outcome.days.in),
      days(outcome.days.above),
    ];
  });
  const counted =
    t.judged === 0
      ? 'No test was made while a target was in force.'
      : `Of ${countWords(t.judged, 'test')} with a target, ${t.in} were in range (${percent(t.in / t.judged)}), ${t.below} below, ${t.above} above.`;
  return {
    heading: 'Time in range',
    body: [
      table(
        [
          'rule set',
          'in range',
          'within the bounds of the times',
          ...['days below', 'days in', 'days above'].map((says) => ({ says, isNumber: true as const })),
        ],
        rows,
      ),
      paragraph(
        `${counted} ${countWords(t.criticalLow + t.criticalHigh, 'critical value')}.${t.uncertain > 0 ? ` Of ${countWords(t.uncertain, 'test')} the standing is not certain; ${t.uncertain === 1 ? 'it counts' : 'they count'} as the most critical that ${t.uncertain === 1 ? 'it' : 'they'} may be.` : ''}`,
      ),
      list(timeInRange.map(leftOutText)),
    ],
  };
}

/** What a rule set left out, its conditions and where it was read. */
function leftOutText(outcome: TimeInRangeOutcome): string {
  const { source, conditions, range } = outcome.rules;
  const parts = [`${source.name}: ${source.citation}.`];
  if (range !== 'targets')
    parts.push(`Judged against ${range.low.toFixed(1)} to ${range.high.toFixed(1)} for everybody.`);
  if (outcome.kind === 'known') {
    const { leftOut: l, capped, beyond } = outcome;
    const left = [
      l.gaps > 0 ? `${countWords(l.gaps, 'gap')} (${Math.round(l.gapDays)} days)` : '',
      l.noTargetDays > 0 ? `${Math.round(l.noTargetDays)} days before the first target` : '',
      l.firstDays > 0 ? `${countWords(l.firstDays, 'test')} of the first days of treatment` : '',
      l.sameDate > 0 ? `${countWords(l.sameDate, 'test')} of a date with another` : '',
      l.tooLow > 0 ? `${countWords(l.tooLow, 'test')} with too low a value` : '',
    ].filter(Boolean);
    if (left.length > 0) parts.push(`Left out: ${left.join(', ')}.`);
    if (capped > 0) parts.push(`${countWords(capped, 'value')} cut down to the cap.`);
    if (beyond > 0) parts.push(`${countWords(beyond, 'value')} beyond the meter’s range taken as the number shown.`);
  }
  if (conditions.length > 0)
    parts.push(`Meant for people who meet what this program cannot see: ${conditions.join('; ')}.`);
  return parts.join(' ');
}

function valuesSection({ values, critical, zone: zoneName }: PatientReport, zone: Zone): Section {
  const note = critical
    ? `Critical: under ${critical.low} or from ${critical.high} on (${criticalSource(critical)}).`
    : 'No critical limits are set for this analyte.';
  if (values.length === 0) return { heading: 'Values', body: [paragraph('There are none.')] };
  return {
    heading: 'Values',
    body: [
      table(
        [`time (${zoneName})`, 'how sure', 'value', 'standing', 'meter', 'strip lot'],
        values.map((row) => [
          whenText(row, zone),
          row.time ? sureWords(row.time, zone) : '',
          valueText(row),
          standingCell(row),
          row.meterId,
          row.lot ?? '',
        ]),
      ),
      remark(`Newest first. ${note}`),
    ],
  };
}

const whenText = ({ time }: ValueRow, zone: Zone): string => (time ? localMinute(time.at, zone) : 'time unknown');

/** A value with its unit, not to be broken at the end of a line. INR has no unit worth writing. */
const valueText = ({ values }: ValueRow): string =>
  values
    .map(({ analyte, value, unit }) =>
      [analyte, value, /^(1|\{.*\})?$/.test(unit) ? '' : unit].filter(Boolean).join('\u00a0'),
    )
    .join(', ');

function standingCell(row: ValueRow): Content {
  if (row.status === 'void') return `struck out${row.voidReason === undefined ? '' : `: ${row.voidReason}`}`;
  const said = row.standing ? standingWords(row.standing) : '';
  if (row.status === 'held') return `waits${said ? ` (${said})` : ''}`;
  const words = [
    said,
    row.isCertain ? '' : 'not certain',
    row.toConfirm ? 'confirm in a laboratory' : '',
    row.status === 'provisional' ? 'may still be refined' : '',
  ].filter(Boolean);
  return row.standing === 'in' ? words.join('; ') : strong(words.join('; '));
}

function targetsSection({ targets, analyte }: PatientReport, zone: Zone): Section {
  if (targets.length === 0) return { heading: 'Targets', body: [paragraph('No target was ever set.')] };
  return {
    heading: 'Targets',
    body: [
      table(
        ['in force from', analyte, 'set by', 'set on'],
        targets
          .toReversed()
          .map((t) => [
            t.from === 0 ? 'the beginning' : localMinute(t.from, zone),
            `${t.low} to ${t.high}`,
            t.setBy,
            localDay(t.setAt, zone),
          ]),
      ),
    ],
  };
}
