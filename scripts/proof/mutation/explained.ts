/**
 * Mutants that no test can tell from the code, each with the reason. The proof leaves them in its figures, tells how many
 * they are, and fails where one of them is killed or is not made any more: then the reason was wrong, or is out of date.
 */

/** One or more mutants of a file, by the text that was changed and what it was changed into. */
export interface Explained {
  readonly file: string;
  /** The text before, without line breaks, and after. */
  readonly changes: readonly (readonly [before: string, after: string])[];
  readonly why: string;
}

/** By file. */
export const EXPLAINED: readonly Explained[] = [
  {
    file: 'src/clinic/controls/assess.ts',
    changes: [
      ['chart.run === 0', 'false'],
      ['level !== undefined', 'true'],
    ],
    why: 'A chart begins outside of any run, so its first control begins one by the time; and a set may hold an undefined level, which no level is.',
  },
  {
    file: 'src/clinic/controls/assess.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'The text that is put into the empty list is no control value: its distance is not a number, and no rule speaks for it, or nobody reads it.',
  },
  {
    file: 'src/clinic/controls/firing-words.ts',
    changes: [
      ['newest.z > 0', 'newest.z >= 0'],
      ['z < 0', 'z <= 0'],
    ],
    why: 'A rule speaks only beyond its limit, so no value on the mean is told of.',
  },
  {
    file: 'src/clinic/controls/levey-jennings.ts',
    changes: [
      [
        "match.kind === 'unassigned' || !limits || z === undefined",
        "(match.kind === 'unassigned' || !limits) && z === undefined",
      ],
      ["match.kind === 'unassigned' || !limits", 'false'],
      ["match.kind === 'unassigned' || !limits", "match.kind === 'unassigned' && !limits"],
      ["match.kind === 'unassigned'", 'false'],
      ['z === undefined', 'false'],
    ],
    why: 'A control is without a level, without limits and without a distance together or not at all.',
  },
  {
    file: 'src/clinic/controls/levey-jennings.ts',
    changes: [['a < b', 'a <= b']],
    why: 'No two charts have the same key.',
  },
  {
    file: 'src/clinic/controls/levey-jennings.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ['!head', 'false'],
      ['ofLot[0]?.limits', 'ofLot[0].limits'],
    ],
    why: 'A group has a member: the types do not say so.',
  },
  {
    file: 'src/clinic/controls/levey-jennings.ts',
    changes: [['stripLot !== undefined', 'true']],
    why: 'A field that is there without a value reads as one that is not there.',
  },
  {
    file: 'src/clinic/controls/runs.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ['!first', 'false'],
    ],
    why: 'A group has a member: the types do not say so.',
  },
  {
    file: 'src/clinic/controls/standing.ts',
    changes: [
      [
        "control.fired.find((f) => f.outcome === 'reject')?.sentence",
        "control.fired.find(f => f.outcome === 'reject').sentence",
      ],
    ],
    why: 'What is rejected has a rule that rejected it.',
  },
  {
    file: 'src/clinic/course/course-of.ts',
    changes: [
      ['treatmentSince === undefined', 'false'],
      ['input.planDays !== undefined', 'true'],
      ['input.planSince !== undefined', 'true'],
      ['input.clinicErrorRate !== undefined', 'true'],
    ],
    why: 'A field that is there without a value reads as one that is not there.',
  },
  {
    file: 'src/clinic/course/dated-point.ts',
    changes: [['beyond === undefined', 'false']],
    why: 'A field that is there without a value reads as one that is not there.',
  },
  {
    file: 'src/clinic/course/error-tests.ts',
    changes: [
      ['so.last > time.at', 'so.last >= time.at'],
      ['a.code < b.code', 'a.code <= b.code'],
      ['meaning !== undefined', 'true'],
    ],
    why: 'Equal moments are equal whichever is taken; no code comes twice; a field without a value reads as none.',
  },
  {
    file: 'src/clinic/course/kept-tests.ts',
    changes: [
      ['dropUnder !== undefined', 'true'],
      ['cap === undefined', 'false'],
    ],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/clinic/course/kept-tests.ts',
    changes: [['{ day: 0, first: 0, last: 0 }', '{}']],
    why: 'Without a test nothing is counted from the beginning of treatment.',
  },
  {
    file: 'src/clinic/course/kept-tests.ts',
    changes: [
      ['bounds.latest < (earliest - FAR) * DAY_MS || bounds.earliest > (latest + FAR) * DAY_MS', 'false'],
      [
        'bounds.latest < (earliest - FAR) * DAY_MS || bounds.earliest > (latest + FAR) * DAY_MS',
        'bounds.latest < (earliest - FAR) * DAY_MS && bounds.earliest > (latest + FAR) * DAY_MS',
      ],
      ['bounds.latest < (earliest - FAR) * DAY_MS', 'false'],
      ['bounds.latest < (earliest - FAR) * DAY_MS', 'bounds.latest <= (earliest - FAR) * DAY_MS'],
      ['(earliest - FAR) * DAY_MS', '(earliest - FAR) / DAY_MS'],
      ['bounds.earliest > (latest + FAR) * DAY_MS', 'false'],
      ['bounds.earliest > (latest + FAR) * DAY_MS', 'bounds.earliest >= (latest + FAR) * DAY_MS'],
      ['boundsIn(time).latest + FAR * DAY_MS < boundsIn(next).earliest', 'false'],
      [
        'boundsIn(time).latest + FAR * DAY_MS < boundsIn(next).earliest',
        'boundsIn(time).latest + FAR * DAY_MS <= boundsIn(next).earliest',
      ],
    ],
    why: 'Only a shorter way: far from a border the dates would say the same.',
  },
  {
    file: 'src/clinic/course/ordered-times.ts',
    changes: [
      ['i < n', 'i <= n'],
      ['(until[first] ?? 0) <= from', '(until[first] ?? 0) < from'],
      ['(slope[end - 1] ?? 0) + shift < 0', '(slope[end - 1] ?? 0) + shift <= 0'],
    ],
    why: 'A piece without length changes nothing, nor does a test behind the last; of equally good times either will do.',
  },
  {
    file: 'src/clinic/course/ranges-in-force.ts',
    changes: [['effective[i - 1]?.high', 'effective[i - 1].high']],
    why: 'The first range differs from none in its lower limit, so the upper one is not asked for.',
  },
  {
    file: 'src/clinic/course/ranges-in-force.ts',
    changes: [
      ['at >= b.at', 'false'],
      ['at >= b.at', 'at > b.at'],
    ],
    why: 'Only keeps rounding out of the end of a line.',
  },
  {
    file: 'src/clinic/course/ranges-in-force.ts',
    changes: [['part === 0', 'false']],
    why: 'Only a shorter way: nothing times a share adds nothing.',
  },
  {
    file: 'src/clinic/course/ranges-in-force.ts',
    changes: [
      ['top < low', 'top <= low'],
      ['bottom > high', 'bottom >= high'],
    ],
    why: 'A line that only touches the limit is split into all and nothing below.',
  },
  {
    file: 'src/clinic/course/reassessment.ts',
    changes: [["figure.kind === 'known'", 'true']],
    why: 'A figure that is not known has no fraction, and undefined is less than nothing.',
  },
  {
    file: 'src/clinic/course/standing.ts',
    changes: [['limits.confirmFrom !== undefined', 'true']],
    why: 'No number is more than undefined.',
  },
  {
    file: 'src/clinic/course/target-at.ts',
    changes: [['from > earliest', 'from >= earliest']],
    why: 'The target that began at the earliest moment is then named twice, and judged alike.',
  },
  {
    file: 'src/clinic/course/theil-sen.ts',
    changes: [
      ['rank >= 1 && low !== undefined && high !== undefined', 'rank >= 1 && low !== undefined || high !== undefined'],
      ['rank >= 1 && low !== undefined', 'true'],
      ['rank >= 1 && low !== undefined', 'rank >= 1 || low !== undefined'],
      ['rank >= 1', 'true'],
      ['low !== undefined', 'true'],
      ['high !== undefined', 'true'],
    ],
    why: 'Ranks out of the list have no slope: each part says what the other two say.',
  },
  {
    file: 'src/clinic/course/theil-sen.ts',
    changes: [
      ['(points.length * (points.length - 1)) / 2', 'points.length * (points.length - 1) * 2'],
      ['points.length - 1', 'points.length + 1'],
      ['j < i', 'j <= i'],
    ],
    why: 'Room that is not used; a point makes no slope with itself.',
  },
  {
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [
      ['i < n', 'i <= n'],
      ['i + 1 < tests.length', 'i + 1 <= tests.length'],
      ['i + 1', 'i - 1'],
      ['!a || !b', 'false'],
      ['!a || !b', '!a && !b'],
    ],
    why: 'The guard behind it sees what lies out of the list.',
  },
  {
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [
      ['to - from > tooLongMs(gapDays)', 'false'],
      ['to - from > tooLongMs(gapDays)', 'to - from >= tooLongMs(gapDays)'],
      ['to - from < (gapDays - 2) * DAY_MS', 'false'],
      ['to - from < (gapDays - 2) * DAY_MS', 'to - from <= (gapDays - 2) * DAY_MS'],
      ['(gapDays - 2) * DAY_MS', '(gapDays - 2) / DAY_MS'],
    ],
    why: 'Only a shorter way: the dates would say the same.',
  },
  {
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [
      ['step < MOST_STEPS', 'step <= MOST_STEPS'],
      ['step++', 'step--'],
      ['next - fraction < SETTLED', 'next - fraction <= SETTLED'],
    ],
    why: 'It settles in a few steps.',
  },
  {
    file: 'src/clinic/course/time-in-range.ts',
    changes: [['tests.at(-1)?.day', 'tests.at(-1).day']],
    why: 'Every rule set asks for two tests before.',
  },
  {
    file: 'src/clinic/course/trend.ts',
    changes: [
      ['!first || !last', 'false'],
      ['!first || !last', '!first && !last'],
    ],
    why: 'Without tests there is no line, which gives the same reason; a list with a first test has a last one.',
  },
  {
    file: 'src/clinic/course/trend.ts',
    changes: [['time.at - first.time.at', 'time.at + first.time.at']],
    why: 'A slope does not depend on where time is counted from.',
  },
  {
    file: 'src/clinic/lots/by-lot.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ['!first || !last', 'false'],
      ['!first || !last', '!first && !last'],
    ],
    why: 'A group has a member: the types do not say so.',
  },
  {
    file: 'src/clinic/meters/rankings.ts',
    changes: [['a.meter < b.meter', 'a.meter <= b.meter']],
    why: 'No meter is in it twice.',
  },
  {
    file: 'src/clinic/people/whose.ts',
    changes: [['lend.to === undefined', 'false']],
    why: 'A field that is there without a value reads as one that is not there.',
  },
];
