/** The report on a month of the clinic. Pure. Never a dose, never a diagnosis. */
import { NICE_REASSESSMENT } from '../clinic/rules/reassessment-rules.ts';
import { localDay, localMinute } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { MonthReport } from './gather-month.ts';
import { figure, glance, type Html, htmlPage, list, needsYou, paragraph, remark, type Section, table } from './page.ts';
import { countWords, percent, percentCut, percentRange, standingWords } from './plain-words.ts';
import { box, INK, line, picture, scale, words } from './svg.ts';

/** So many rows stand in a table of the page; all are in the JSON. */
const SHOWN = 40;

/** Makes the page; `printedAt` is in words. */
export function monthPage(report: MonthReport, printedAt: string): string {
  const zone = zoneOf(report.zone);
  const end = report.isOver ? '' : `, up to ${localMinute(report.until, zone)}: it is not over`;
  return htmlPage({
    title: `The month ${report.month}`,
    subtitle: `${countWords(report.people, 'person', 'people')} looked after${end}`,
    clinic: 'Month of the clinic',
    printedAt: `Made ${printedAt}`,
    sections: [
      criticalSection(report, zone),
      testsSection(report),
      timeInRangeSection(report),
      reassessSection(report),
      overdueSection(report),
      holdsSection(report),
      downloadsSection(report, zone),
      controlsSection(report),
      incidentsSection(report),
    ],
  });
}

const whoWords = ({ id, name }: { readonly id: string; readonly name?: string }): string =>
  name === undefined ? id : `${name} (${id})`;

/** What is left out of a table on the page. */
const rest = (count: number, where: string): Html[] =>
  count > SHOWN ? [remark(`And ${count - SHOWN} more: ${where}.`)] : [];

function criticalSection({ critical }: MonthReport, zone: Zone): Section {
  return {
    heading: 'Critical values',
    body:
      critical.length === 0
        ? [paragraph('None in this month.')]
        : [
            needsYou(`${countWords(critical.length, 'critical value')}: confirmed and acted on by local policy?`),
            table(
              ['time', 'person', { says: 'value', isNumber: true }, 'standing'],
              critical
                .slice(0, SHOWN)
                .map((c) => [
                  localMinute(c.takenAt, zone),
                  c.person === undefined ? 'not known whose' : whoWords({ ...c, id: c.person }),
                  `${c.analyte} ${c.beyond ?? ''}${c.value.toFixed(1)}`,
                  `${standingWords(c.standing)}${c.status === 'held' ? ' (waits)' : ''}`,
                ]),
            ),
            ...rest(critical.length, 'see the JSON of this report'),
          ],
  };
}

function testsSection({ tests, people, peopleTested, analyte }: MonthReport): Section {
  const { standings, clear, others, held, void: struck, errors, errorShare } = tests;
  const share = (n: number): string => (clear === 0 ? '' : percent(n / clear));
  return {
    heading: 'Tests made',
    body: [
      glance([
        { figure: String(people), says: 'people looked after' },
        { figure: String(peopleTested), says: 'of them with a value that counts' },
        { figure: String(clear), says: `${analyte} values that count` },
        { figure: String(errors), says: 'tests that ended in an error' },
      ]),
      table(
        [
          'standing against the target of the day',
          { says: 'values', isNumber: true },
          { says: 'share', isNumber: true },
        ],
        standings.map(({ standing, tests: n }) => [standingWords(standing), n, share(n)]),
      ),
      ...(others === 0
        ? []
        : [
            paragraph(
              `${countWords(others, 'value')} of other analytes ${others === 1 ? 'counts' : 'count'} too and ${others === 1 ? 'is' : 'are'} not in this table.`,
            ),
          ]),
      paragraph(
        `${held} more ${held === 1 ? 'value waits' : 'values wait'} for a person and ${countWords(struck, 'value was', 'values were')} struck out. ${errorShare ? `Errors are ${percent(errorShare.estimate)} of all tests (95 % interval ${percentRange(errorShare.low, errorShare.high)}).` : 'No test was made.'}`,
      ),
    ],
  };
}

function timeInRangeSection({ timeInRange: t }: MonthReport): Section {
  const rules = NICE_REASSESSMENT.source;
  const quartiles = t.quartiles
    ? `Half of the people lie under ${percent(t.quartiles.middle)}; the middle half between ${percent(t.quartiles.low)} and ${percent(t.quartiles.high)}.`
    : 'No figure can be made yet.';
  return {
    heading: 'Time in range over the last six months, per person',
    body: [
      ...(t.known > 0 ? [figure(tenthsPicture(t.tenths), 'How many people have which time in range.')] : []),
      paragraph(
        `${countWords(t.known, 'person has', 'people have')} a figure, ${t.unknown} ${t.unknown === 1 ? 'has' : 'have'} not: too few tests, no target, or under half a year. ${quartiles}`,
      ),
      ...(t.under.length === 0
        ? [paragraph(`Nobody lies under ${percent(t.underShare)}.`)]
        : [
            needsYou(`${countWords(t.under.length, 'person lies', 'people lie')} under ${percent(t.underShare)}.`),
            table(
              ['person, lowest first', { says: 'time in range', isNumber: true }],
              t.under.slice(0, SHOWN).map((p) => [whoWords(p), percentCut(p.fraction)]),
            ),
            ...rest(t.under.length, 'see the JSON of this report'),
          ]),
      remark(`By the rules of ${rules.name}, ${rules.edition}: ${rules.citation}.`),
    ],
  };
}

function tenthsPicture(tenths: readonly number[]): Html {
  const x = scale(0, 10, 40, 700);
  const most = Math.max(1, ...tenths);
  const y = scale(0, most, 150, 26);
  const bars = tenths.map(
    (n, i) =>
      box(x(i) + 2, y(n), x(i + 1) - x(i) - 4, 150 - y(n), INK.mid) +
      words((x(i) + x(i + 1)) / 2, y(n) - 6, String(n), { anchor: 'middle' }),
  );
  const ticks = [0, 2, 4, 6, 8, 10].map((i) => words(x(i), 170, `${i * 10} %`, { anchor: 'middle', ink: INK.mid }));
  const says = tenths.map((n, i) => `${i * 10} to ${i * 10 + 10} %: ${n}`).join('; ');
  return picture(740, 180, 'People by time in range', says, [line(40, 150, 700, 150), ...bars, ...ticks]);
}

function reassessSection({ reassess }: MonthReport): Section {
  const { source } = NICE_REASSESSMENT;
  return {
    heading: 'Reassessment',
    body:
      reassess.length === 0
        ? [paragraph(`No criterion of ${source.name} is met by anybody.`)]
        : [
            paragraph(
              `By ${source.name} the anticoagulation of ${countWords(reassess.length, 'person is', 'people is')} to be looked at again.`,
            ),
            table(
              ['person', 'criteria met, last six months'],
              reassess.slice(0, SHOWN).map((p) => [whoWords(p), p.met.join('; ')]),
            ),
            ...rest(reassess.length, 'see the JSON of this report'),
          ],
  };
}

function overdueSection({ overdue, asOf, zone }: MonthReport): Section {
  return {
    heading: `Overdue on ${localDay(asOf, zoneOf(zone))}`,
    body:
      overdue.length === 0
        ? [paragraph('Nobody.')]
        : [
            needsYou(`${countWords(overdue.length, 'person is', 'people are')} overdue for a test.`),
            table(
              [
                'person',
                { says: 'days overdue', isNumber: true },
                { says: 'days since the last test', isNumber: true },
              ],
              overdue.slice(0, SHOWN).map((p) => [whoWords(p), p.overdueDays || 'no plan', p.daysSinceTest ?? 'never']),
            ),
            ...rest(overdue.length, 'see the JSON of this report'),
          ],
  };
}

function holdsSection({ holds }: MonthReport): Section {
  return {
    heading: 'What waits',
    body: [
      paragraph(
        `${countWords(holds.open, 'reading waits', 'readings wait')} when this was made, of all months. ${countWords(holds.released, 'reading was', 'readings were')} released in this month.`,
      ),
      ...(holds.openByReason.length === 0
        ? []
        : [
            table(
              ['reason', { says: 'readings', isNumber: true }],
              holds.openByReason.map(({ reason, readings }) => [reason.replaceAll('-', ' '), readings]),
            ),
          ]),
    ],
  };
}

function downloadsSection({ downloads: d }: MonthReport, zone: Zone): Section {
  return {
    heading: 'Downloads',
    body: [
      paragraph(
        `${countWords(d.all, 'download')} of ${countWords(d.meters, 'meter')}; ${d.incomplete} broke off, ${d.damaged} with damaged lines that were asked for again or dropped.`,
      ),
      ...(d.possiblyLost.length === 0
        ? [paragraph('No sign that a result was lost.')]
        : [
            needsYou('Tests may have been overwritten before anybody read them:'),
            list(d.possiblyLost.map((l) => `meter ${l.meter}, read ${localMinute(l.at, zone)} (${l.download})`)),
          ]),
    ],
  };
}

function controlsSection({ controls }: MonthReport): Section {
  const kinds = (['liquid', 'electronic', 'unknown'] as const).filter((kind) =>
    Object.values(controls[kind]).some((n) => n > 0),
  );
  const number = (says: string) => ({ says, isNumber: true }) as const;
  return {
    heading: 'Control tests',
    body:
      kinds.length === 0
        ? [paragraph('None was made in this month.')]
        : [
            table(
              ['kind', number('in control'), number('warnings'), number('rejected'), number('level not known')],
              kinds.map((kind) => {
                const { accept, warn, reject, unassigned } = controls[kind];
                return [kind === 'unknown' ? 'not known' : kind, accept, warn, reject, unassigned];
              }),
            ),
          ],
  };
}

const INCIDENT: Readonly<Record<MonthReport['incidents'][number]['kind'], string>> = {
  'power-loss': 'a meter lost its power and its clock',
  'clock-changed': 'the clock of a meter was changed',
  'fast-drift': 'a clock runs too fast or too slow',
  'memory-wrapped': 'a memory overwrote its oldest results',
  'deleted-on-meter': 'results were deleted on a meter',
  'identity-shared': 'two meters go by one name',
};

function incidentsSection({ incidents }: MonthReport): Section {
  return {
    heading: 'What happened to meters',
    body:
      incidents.length === 0
        ? [paragraph('Nothing is known of this month.')]
        : [
            table(
              ['what', { says: 'times', isNumber: true }],
              incidents.map(({ kind, count }) => [INCIDENT[kind], count]),
            ),
          ],
  };
}
