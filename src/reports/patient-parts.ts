/** The smaller parts of a person's page: reassessment, plan, steadiness and trend, failed tests. Pure. */
import type { Course } from '../clinic/course/course-of.ts';
import { ERROR_HABITS } from '../clinic/rules/technique.ts';
import { localDay } from '../core/local-words.ts';
import type { Zone } from '../core/zone.ts';
import { list, needsYou, paragraph, remark, type Section, strong, table } from './page.ts';
import { countWords, figureWords, percent } from './plain-words.ts';

/** The criteria with the tests counted for each. */
export function reassessmentSection({ reassessment: r }: Course): Section {
  const { rules, criteria, timeInRange } = r;
  const { figure } = timeInRange;
  return {
    heading: 'Is a reassessment due?',
    body: [
      r.isDue
        ? needsYou(`By ${rules.source.name} this anticoagulation is to be looked at again.`)
        : paragraph(`No criterion of ${rules.source.name} is met.`),
      table(
        ['criterion, last six months', 'found', 'met'],
        [
          ...criteria.map(({ criterion: c, counted, isMet }) => [
            `at least ${countWords(c.atLeast, 'value')} ${c.beyond} ${c.limit}`,
            counted.length === 0
              ? 'none'
              : counted.map((t) => `${t.beyond ?? ''}${t.value.toFixed(1)} on ${t.date}`).join(', '),
            isMet ? strong('yes') : 'no',
          ]),
          [
            `time in range under ${percent(rules.timeInRangeUnder)}`,
            figure.kind === 'known' ? percent(figure.fraction) : figure.sentence,
            timeInRange.isMet ? strong('yes') : figure.kind === 'known' ? 'no' : 'not known',
          ],
        ],
      ),
      remark(
        `${rules.source.name}, ${rules.source.edition}: ${rules.source.citation}. Six months are taken as ${rules.windowDays} days.`,
      ),
    ],
  };
}

/** What was planned, what was done, what is overdue. */
export function planSection({ plan }: Course): Section {
  const { everyDays, last, nextDate, overdueDays, kept, isTooLong, longestDays } = plan;
  const planned =
    everyDays === undefined
      ? 'No interval is planned.'
      : `A test is planned every ${countWords(everyDays, 'day')}. ${kept.fraction.kind === 'known' ? `${kept.done} of ${countWords(kept.planned, 'planned test')} were made.` : kept.fraction.sentence}`;
  const since = last
    ? ` The last test was on ${last.date}, ${countWords(last.daysSince, 'day')} ago.`
    : ' No test was made yet.';
  const next = nextDate === undefined || overdueDays > 0 ? '' : ` The next one is planned for ${nextDate}.`;
  return {
    heading: 'Tests planned and made',
    body: [
      ...(overdueDays > 0
        ? [needsYou(`The test planned for ${nextDate ?? ''} is ${countWords(overdueDays, 'day')} overdue.`)]
        : []),
      ...(isTooLong ? [needsYou(`Nobody should go longer than ${longestDays} days without a test.`)] : []),
      paragraph(`${planned}${since}${next}`),
    ],
  };
}

/** Variability and trend. */
export function steadinessSection({ variability: v, trend }: Course): Section {
  const change = v.largestChange;
  return {
    heading: 'How steady',
    body: [
      table(
        ['figure', { says: 'value', isNumber: true }, 'what it is'],
        [
          ['mean', figureWords(v.mean), `of ${countWords(v.tests, 'test')}`],
          ['standard deviation', figureWords(v.sd), 'in the unit of the values'],
          [
            'coefficient of variation',
            v.cv.kind === 'known' ? percent(v.cv.value) : v.cv.sentence,
            'standard deviation of the mean',
          ],
          [
            'variance growth rate A',
            figureWords(v.growthA),
            'mean squared distance from the middle of the target, for each week',
          ],
          ['variance growth rate B1', figureWords(v.growthB1), 'mean squared change from test to test, for each week'],
          change.kind === 'known'
            ? ['steepest change', signed(change.change), `within ${countWords(change.days, 'day')}`]
            : ['steepest change', '', change.sentence],
        ],
      ),
      paragraph(
        trend.kind !== 'known'
          ? `Trend: ${trend.sentence}`
          : (trend.sentence ??
              `No rise or fall is shown by ${countWords(trend.tests, 'test')} of the last ${trend.windowDays} days.`),
      ),
      ...(v.beyond > 0
        ? [
            remark(
              `${countWords(v.beyond, 'value')} beyond the meter’s range entered as the number shown: these figures are rather too small.`,
            ),
          ]
        : []),
    ],
  };
}

const signed = (value: number): string => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value).toFixed(1)}`;

/** Failed tests, and what usually goes wrong. */
export function errorsSection({ errors }: Course, zone: Zone): Section {
  const { errors: n, tests, codes, clusters, againstClinic, advice } = errors;
  if (n === 0)
    return { heading: 'Failed tests', body: [paragraph(`None of ${countWords(tests, 'test')} ended in an error.`)] };
  return {
    heading: 'Failed tests',
    body: [
      paragraph(`${n} of ${countWords(tests, 'test')} ended in an error.`),
      ...(againstClinic?.isUnusual
        ? [
            needsYou(
              `That is more than chance explains where ${percent(againstClinic.rate)} of all tests of the clinic fail: watch a test together.`,
            ),
          ]
        : []),
      ...clusters.map((c) =>
        needsYou(
          `${c.errors} errors among ${c.tests} tests from ${localDay(c.from, zone)} to ${localDay(c.until, zone)}: watch a test together.`,
        ),
      ),
      table(
        ['code', { says: 'times', isNumber: true }, 'last', 'meaning'],
        codes.map((c) => [
          c.code || 'none told',
          c.count,
          localDay(c.last, zone),
          c.meaning ?? 'see the meter’s own instructions',
        ]),
      ),
      paragraph('What usually goes wrong:'),
      list(advice.map(({ cause, advice: what }) => `${cause}: ${what}`)),
      remark(`${ERROR_HABITS.source.name}: ${ERROR_HABITS.source.citation}.`),
    ],
  };
}
