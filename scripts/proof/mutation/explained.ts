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
    file: 'src/clinic/course/kept-tests.ts',
    changes: [
      [
        'Math.abs(test.value - nearest) <= Math.abs(before.value - nearest) + TIE',
        'Math.abs(test.value - nearest) < Math.abs(before.value - nearest) + TIE',
      ],
    ],
    why: 'No two values that a meter shows differ by just what is allowed for rounding.',
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
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [['tests[0]?.at', 'tests[0].at']],
    why: 'A course with a figure has tests: the types do not say so.',
  },
  {
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [
      ['opening + 1 - i', 'opening + 1 + i'],
      ['i >= 0', 'i > 0'],
      ['i + 1 - closing', 'i + 1 + closing'],
    ],
    why: 'Farther than too far to count makes no difference, be it without end.',
  },
  {
    file: 'src/clinic/course/time-in-range-bounds.ts',
    changes: [['each <= 0', 'each < 0']],
    why: 'A pair worth nothing adds nothing; counted, it makes a step shorter, and the next one finds it worth less.',
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
    file: 'src/clinic/lots/error-rates.ts',
    changes: [['chance < (1 - CONFIDENCE) / 2 / known', 'chance <= (1 - CONFIDENCE) / 2 / known']],
    why: 'Which side of the limit a chance falls on that equals it in truth is left to the rounding of doubles.',
  },
  {
    file: 'src/clinic/lots/inr-fit.ts',
    changes: [
      ['shown.low <= expected.high * ROUNDING_OF_DOUBLES', 'shown.low < expected.high * ROUNDING_OF_DOUBLES'],
      ['expected.low <= shown.high * ROUNDING_OF_DOUBLES', 'expected.low < shown.high * ROUNDING_OF_DOUBLES'],
    ],
    why: 'Limits that meet lie within what is allowed for rounding, not at its end.',
  },
  {
    file: 'src/clinic/lots/shift-words.ts',
    changes: [['estimate > 0', 'estimate >= 0']],
    why: 'The estimate lies in its interval, and the interval of a shift leaves zero out.',
  },
  {
    file: 'src/clinic/meters/rankings.ts',
    changes: [['a.meter < b.meter', 'a.meter <= b.meter']],
    why: 'No meter is in it twice.',
  },
  {
    file: 'src/clinic/people/check-digit.ts',
    changes: [['total + (doubled > 9 ? doubled - 9 : doubled)', 'total - (doubled > 9 ? doubled - 9 : doubled)']],
    why: 'A sum ends with 0 where its opposite does.',
  },
  {
    file: 'src/clinic/people/whose.ts',
    changes: [['lend.to === undefined', 'false']],
    why: 'A field that is there without a value reads as one that is not there.',
  },
  {
    file: 'src/clinic/rules/agreement-rule.ts',
    changes: [
      ['issue?.path', 'issue.path'],
      ['issue?.message', 'issue.message'],
    ],
    why: 'What could not be read has an issue: the types do not say so.',
  },
  {
    file: 'src/clinic/comparison/deming.ts',
    changes: [['n < 3', 'false']],
    why: 'One pair that is left of two has no direction: there is no line then either.',
  },
  {
    file: 'src/clinic/comparison/deming.ts',
    changes: [
      ['n * whole - (n - 1) * part', 'n * whole + (n - 1) * part'],
      ['n * whole', 'n / whole'],
    ],
    why: 'What is the same in all parts does not spread, nor does their sign.',
  },
  {
    file: 'src/clinic/comparison/moments.ts',
    changes: [
      ['pair.x - meanX', 'pair.x + meanX'],
      ['pair.y - meanY', 'pair.y + meanY'],
    ],
    why: 'In the sum of products one of the two distances may be from any point: the other ones add up to nothing.',
  },
  {
    file: 'src/clinic/comparison/pairing.ts',
    changes: [['between.mostMs !== undefined', 'true']],
    why: 'Undefined is not at most any number.',
  },
  {
    file: 'src/clinic/comparison/passing-bablok.ts',
    changes: [['slope >= -1', 'slope > -1']],
    why: 'Slopes of exactly -1 were left out.',
  },
  {
    file: 'src/clinic/comparison/passing-bablok.ts',
    changes: [['below === undefined', 'false']],
    why: 'The lower of the two slopes in the middle is finite where the upper one is.',
  },
  {
    file: 'src/clinic/comparison/passing-bablok.ts',
    changes: [['M1 < 1', 'false']],
    why: 'Without a first rank the last one lies behind the end of the list.',
  },
  {
    file: 'src/clinic/comparison/passing-bablok.ts',
    changes: [
      ['(n * (n - 1)) / 2', 'n * (n - 1) * 2'],
      ['n - 1', 'n + 1'],
      ['i < n', 'i <= n'],
    ],
    why: 'The list has room to spare, and behind the last pair there is no other.',
  },
  {
    file: 'src/clinic/comparison/passing-bablok.ts',
    changes: [
      ['dx === 0 && dy === 0', 'false'],
      ['slope !== undefined', 'true'],
    ],
    why: 'Two noughts are also one minus the other; undefined is no finite number.',
  },
  {
    file: 'src/clinic/statistics/beta.ts',
    changes: [
      ['x <= 0', 'x < 0'],
      ['x >= 1', 'x > 1'],
      ['p === 0', 'false'],
      ['p === 1', 'false'],
    ],
    why: 'At the ends the formula, and the search, give the same.',
  },
  {
    file: 'src/clinic/statistics/beta.ts',
    changes: [
      ['x < (a + 1) / (a + b + 2)', 'x <= (a + 1) / (a + b + 2)'],
      ['Math.abs(d * c - 1) <= SMALLEST_STEP', 'Math.abs(d * c - 1) < SMALLEST_STEP'],
    ],
    why: 'At this point either way gives the same digits.',
  },
  {
    file: 'src/clinic/statistics/gamma.ts',
    changes: [
      ['x >= 0', 'true'],
      ['x === 0', 'false'],
    ],
    why: 'The logarithm of a number below 0 is none; at 0 the series gives the same.',
  },
  {
    file: 'src/clinic/statistics/gamma.ts',
    changes: [
      ['x < a + 1', 'x <= a + 1'],
      ['term > total * SMALLEST_STEP', 'term >= total * SMALLEST_STEP'],
      ['Math.abs(c * d - 1) > 2 * SMALLEST_STEP', 'Math.abs(c * d - 1) >= 2 * SMALLEST_STEP'],
      ['at < STIRLING_FROM', 'at <= STIRLING_FROM'],
      ['-691', '+691'],
    ],
    why: 'One step more, the other way of two or the last term change no digit that a double holds.',
  },
  {
    file: 'src/clinic/statistics/normal.ts',
    changes: [
      ['x > 0', 'x >= 0'],
      ['Math.abs(q) <= 0.425', 'Math.abs(q) < 0.425'],
      ['r <= 5', 'r < 5'],
      ['q < 0', 'q <= 0'],
    ],
    why: 'At these points both ways give the same, or none of them is taken.',
  },
  {
    file: 'src/clinic/statistics/normal.ts',
    changes: [
      ['!(p >= 0 && p <= 1)', 'false'],
      ['p >= 0 && p <= 1', 'true'],
      ['p >= 0 && p <= 1', 'p >= 0 || p <= 1'],
      ['p >= 0', 'true'],
      ['p <= 1', 'true'],
    ],
    why: 'Outside, the logarithm of a number below 0 is asked for: there is none.',
  },
  {
    file: 'src/clinic/statistics/normal.ts',
    changes: [['value * x + coefficient', 'value * x - coefficient']],
    why: 'Both polynomials of the fraction change their sign.',
  },
  {
    file: 'src/clinic/statistics/signed-rank.ts',
    changes: [
      ['new Array<number>(chances.length + rank)', 'new Array()'],
      ['chances.length + rank', 'chances.length - rank'],
      ['next[sum + rank] ?? 0', 'next[sum + rank] && 0'],
    ],
    why: 'A list grows where it is written, and each place is written this way first.',
  },
  {
    file: 'src/clinic/statistics/student-t.ts',
    changes: [
      ['!(df > 0)', 'false'],
      ['df > 0', 'true'],
      ['df > 0', 'df >= 0'],
      ['p >= 0 && p <= 1', 'true'],
      ['p >= 0 && p <= 1', 'p >= 0 || p <= 1'],
      ['p >= 0', 'true'],
      ['p <= 1', 'true'],
    ],
    why: 'The distribution behind it refuses the same.',
  },
  {
    file: 'src/clinic/statistics/student-t.ts',
    changes: [
      ['square < df', 'square <= df'],
      ['t > 0', 't >= 0'],
      ['p < 0.25', 'p <= 0.25'],
    ],
    why: 'At these points both ways give the same.',
  },
  {
    file: 'src/clock/anchors.ts',
    changes: [['i < lastTest', 'i <= lastTest']],
    why: 'The item at hand is a download, so it is not the last test.',
  },
  {
    file: 'src/clock/beginnings.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'The text that is put into the empty list is no moment: a loss at it has no span, and is left out.',
  },
  {
    file: 'src/clock/beginnings.ts',
    changes: [['span.lo - before.when.hi <= 1', 'true']],
    why: 'A day for which no wrong date can be keyed in lies between days with different jumps.',
  },
  {
    file: 'src/clock/gap-times.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'The text that is put into the empty list has no place and no weight: no story counts with it, and none chooses it.',
  },
  {
    file: 'src/clock/gap-times.ts',
    changes: [
      ['cost < least + 1e-9', 'cost <= least + 1e-9'],
      ['cost < least - 1e-9', 'cost <= least - 1e-9'],
    ],
    why: 'Costs are sums of halves: no two lie so near to each other.',
  },
  {
    file: 'src/clock/gap-times.ts',
    changes: [['test[i] === -1', 'false']],
    why: 'What is said of an anchor is kept where no test is.',
  },
  {
    file: 'src/clock/place-gap.ts',
    changes: [['worse.times.cost > better.times.cost + MARGIN', 'worse.times.cost >= better.times.cost + MARGIN']],
    why: 'In 60000 made-up gaps behind a setting without an answer no two outcomes differed by just the margin.',
  },
  {
    file: 'src/clock/place-gap.ts',
    changes: [['t && w', 't || w']],
    why: 'Both outcomes have the same stamps: a test has a time in both or in neither.',
  },
  {
    file: 'src/clock/place.ts',
    changes: [
      ['gap.first && t.first', 'gap.first || t.first'],
      ['gap.last && t.last', 'gap.last || t.last'],
    ],
    why: 'An offset is known where there is a download, and only there.',
  },
  {
    file: 'src/clock/sentences.ts',
    changes: [['off < 0', 'off <= 0']],
    why: 'A clock that is not off at all was called right before.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [
      ['p >= 0', 'p > 0'],
      ['q >= 0', 'q > 0'],
      ['total + extras', 'total - extras'],
    ],
    why: 'They say with how many changes the search begins and ends: with fewer it is longer, and finds the same.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'Nothing begins at the first stamp, so nobody asks for what stands there.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [
      ['known', 'false'],
      ['!certainCosts', 'true'],
    ],
    why: 'Kept only to be quick: made anew it is the same.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [['new Array(parts.length)', 'new Array()']],
    why: 'A list grows as it is filled.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [
      ['overflow', 'false'],
      ['best === Number.POSITIVE_INFINITY', 'false'],
    ],
    why: 'Only sooner: beyond the limit nothing is tried, and where no story holds none is found again.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [['b.moved !== undefined', 'true']],
    why: 'What is not a number is not less than nothing.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [
      ['more + leastFrom(l + 1, rest) > limit()', 'more + leastFrom(l + 1, rest) >= limit()'],
      ['leastCost(total + extras) < best', 'leastCost(total + extras) <= best'],
      ['leastCost(total + extras) <= limit', 'leastCost(total + extras) < limit'],
    ],
    why: 'Costs are sums of halves, and a limit lies a billionth beside one; nothing that costs as much as the best is followed.',
  },
  {
    file: 'src/clock/stories.ts',
    changes: [['when.lo > when.hi', 'false']],
    why: 'The way forwards has left no such beginning: the first test lies behind it, and a loss is given more drift on the way back.',
  },
  {
    file: 'src/clock/tighten.ts',
    changes: [['gap.first && reach', 'gap.first || reach']],
    why: 'An offset is known where there is a download, and only there.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [
      ['s && relations.repeatCost(t) > 0', 's || relations.repeatCost(t) > 0'],
      ['relations.repeatCost(t) > 0', 'true'],
      ['relations.repeatCost(t) > 0', 'relations.repeatCost(t) >= 0'],
    ],
    why: 'Without a test that is like a known one there is no match, so the second search finds what the first did: it only takes longer.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [['s && relations.repeatCost(t) > 0 && question.clock.mayRepeat(s)', 'true']],
    why: 'Without a power loss a test that is told again costs 300 more than its match. In all 146016 questions of three tests, gaps and holes no explanation with fewer matches was as cheap.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [
      ['countMatches(other.steps) < countMatches(best.steps)', 'true'],
      ['countMatches(other.steps) < countMatches(best.steps)', 'countMatches(other.steps) <= countMatches(best.steps)'],
    ],
    why: 'Both searches are cheapest. With as many matches they took the same steps in all 66045 questions of three tests, gaps and holes.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ["s.kind === 'new'", 'true'],
    ],
    why: 'Nobody asks for a text among the indices of told tests; of the steps only new tests are marked.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [
      ['known[k]?.kind', 'known[k].kind'],
      ['item?.kind', 'item.kind'],
      ["item?.kind === 'place' && told", 'true'],
      ["item?.kind === 'place' && told", "item?.kind === 'place' || told"],
      ["item?.kind === 'place'", 'true'],
      ['-1', '+1'],
    ],
    why: 'Steps and places name items that are there: the types do not say so.',
  },
  {
    file: 'src/memory/align.ts',
    changes: [["item?.kind === 'gap'", 'false']],
    why: 'A run of missing places that was followed to behind a gap is no dearer than one opened there; so it was in front of the gap, where to open one costs as much or more.',
  },
  {
    file: 'src/memory/apply.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ['!told || !first', 'false'],
      ['!told || !first', '!told && !first'],
      ['!told', 'false'],
      ['item?.kind', 'item.kind'],
      ["hole?.kind === 'hole'", 'true'],
      ['hole?.kind', 'hole.kind'],
      ['!item', 'false'],
    ],
    why: 'Steps and places name items that are there: the types do not say so.',
  },
  {
    file: 'src/memory/apply.ts',
    changes: [['atMost === undefined', 'false']],
    why: 'A field that is there without a value reads as one that is not there.',
  },
  {
    file: 'src/memory/departures.ts',
    changes: [
      ['capacity !== undefined && held !== undefined', 'true'],
      ['capacity !== undefined && held !== undefined', 'capacity !== undefined || held !== undefined'],
      ['capacity !== undefined', 'true'],
      ['held !== undefined', 'true'],
    ],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/memory/departures.ts',
    changes: [['item?.kind', 'item.kind']],
    why: 'Steps and places name items that are there: the types do not say so.',
  },
  {
    file: 'src/memory/fast.ts',
    changes: [['run !== undefined', 'true']],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/memory/grid.ts',
    changes: [['t < width', 't <= width']],
    why: 'The cell behind a row is the first of the next and is written anew; what may stay in it is a place that is missing in front of a hole, and to cover that costs less.',
  },
  {
    file: 'src/memory/grid.ts',
    changes: [["before?.kind === 'place'", 'true']],
    why: 'A gap has nothing in common with any test.',
  },
  {
    file: 'src/memory/grid.ts',
    changes: [['k - 1', 'k + 1']],
    why: 'To cover nothing changes nothing, and what lies behind is not scored yet.',
  },
  {
    file: 'src/memory/last-clock.ts',
    changes: [['before !== undefined', 'true']],
    why: 'A clock that ran on was seen before: the types do not say so.',
  },
  {
    file: 'src/memory/prices.ts',
    changes: [['relation < RUN_RESTART', 'relation <= RUN_RESTART']],
    why: 'No conflict costs as much as a restart.',
  },
  {
    file: 'src/memory/relations.ts',
    changes: [['cost < least', 'cost <= least']],
    why: 'Of two conflicts that cost the same either will do.',
  },
  {
    file: 'src/memory/relations.ts',
    changes: [
      ["record.errorCode ?? ''", "record.errorCode && ''"],
      ["record.values[0]?.value ?? ''", "record.values[0]?.value && ''"],
      ['record.runNumber !== undefined', 'true'],
      ['meterTime.resolutionMs <= MINUTE', 'true'],
      [
        "known.some((k) => k.kind === 'place' && k.tests.some((t) => isCoarse(t))) || sightings.some((s) => s && isCoarse(s))",
        'true',
      ],
      ["k.kind === 'place' && k.tests.some((t) => isCoarse(t))", 'true'],
      ['s && isCoarse(s)', 'true'],
      ['(record.meterTime?.resolutionMs ?? 0) > MINUTE', 'true'],
      ['(record.meterTime?.resolutionMs ?? 0) > MINUTE', '(record.meterTime?.resolutionMs ?? 0) >= MINUTE'],
      ["keysOf(s).filter((key) => coarse || !key.startsWith('d'))", 'keysOf(s)'],
      ["coarse || !key.startsWith('d')", 'true'],
    ],
    why: 'With more keys more pairs are compared than need be: those that share no other key have nothing in common.',
  },
  {
    file: 'src/memory/runs.ts',
    changes: [
      ['highestRun !== undefined', 'true'],
      ['previous !== undefined', 'true'],
    ],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/memory/same.ts',
    changes: [
      ['a.length < b.length', 'a.length <= b.length'],
      ['a.values.length < b.values.length', 'a.values.length <= b.values.length'],
    ],
    why: 'Behind the end of both texts nothing differs; of two that are as long either may be taken for the shorter.',
  },
  {
    file: 'src/memory/same.ts',
    changes: [['long.values[i]?.value', 'long.values[i].value']],
    why: 'The shorter list has no value that the longer one lacks: the types do not say so.',
  },
  {
    file: 'src/memory/settle.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'A text among the tests that left is no id of one.',
  },
  {
    file: 'src/memory/settle.ts',
    changes: [['firstClosed !== undefined', 'true']],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/memory/settle.ts',
    changes: [['state.last?.complete', 'state.last.complete']],
    why: 'A memory that holds something was told before.',
  },
  {
    file: 'src/memory/sharing.ts',
    changes: [['sharedAt !== undefined', 'true']],
    why: 'No number is less or more than undefined.',
  },
  {
    file: 'src/memory/sharing.ts',
    changes: [
      ["items.findLast((item) => item.kind === 'test')?.record", "items.findLast(item => item.kind === 'test').record"],
      ["item.kind === 'test'", 'true'],
    ],
    why: 'What is set aside ends with a test: the types do not say so.',
  },
  {
    file: 'src/memory/sharing.ts',
    changes: [['[]', '["Stryker was here"]']],
    why: 'A text is no image of a memory that is remembered.',
  },
  {
    file: 'src/memory/shorten.ts',
    changes: [["item.kind === 'test'", 'true']],
    why: 'A gap is never gone.',
  },
  {
    file: 'src/memory/standing.ts',
    changes: [
      ["item.kind === 'test'", 'true'],
      ['at > overwritten', 'at >= overwritten'],
    ],
    why: 'A gap is never gone, and no gap stands where a test does.',
  },
  {
    file: 'src/memory/standing.ts',
    changes: [['before.tests[0]?.memory', 'before.tests[0].memory']],
    why: 'A place has a test: the types do not say so.',
  },
  {
    file: 'src/memory/standing.ts',
    changes: [['() => false', '() => undefined']],
    why: 'Nothing is as good as no.',
  },
  {
    file: 'src/memory/unite.ts',
    changes: [["item.kind === 'test'", 'true']],
    why: 'A gap has no status.',
  },
  {
    file: 'src/memory/unite.ts',
    changes: [['items.at(-1)?.kind', 'items.at(-1).kind']],
    why: 'A list that is not empty has a last item: the types do not say so.',
  },
  {
    file: 'src/memory/which-memory.ts',
    changes: [
      ['[]', '["Stryker was here"]'],
      ["step.kind === 'new'", 'true'],
    ],
    why: 'A text is no memory that holds what was told; of the steps only new tests are marked.',
  },
];
