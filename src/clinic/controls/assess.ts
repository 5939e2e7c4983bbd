/**
 * Judges control tests: which control each was, how far from its mean, and which rules speak. Charts are kept for each
 * meter, analyte and kind of control; liquid and electronic controls never meet.
 */
import type { LocalDate } from '../facts.ts';
import { isExpired } from '../lots/expiry.ts';
import type { ControlReading } from './control-reading.ts';
import { type Firing, fire, type ScoredValue } from './fire.ts';
import { firingSentence } from './firing-words.ts';
import { type ControlKind, type ControlLevel, type ControlLimits, materialOf, statedLimits, zScore } from './level.ts';
import { type LevelMatch, levelsInQuestion, matchLevel } from './match-level.ts';
import type { RuleSet } from './rule-set.ts';

/** The verdict on one control test. */
export type ControlOutcome = 'accept' | 'warn' | 'reject' | 'unassigned';

/** One control test with all that is made of it. */
export interface JudgedControl {
  readonly reading: ControlReading;
  readonly match: LevelMatch;
  /** Absent where neither the meter nor the levels in question tell it. */
  readonly kind?: ControlKind;
  /** Number of its run on its chart, from 1. */
  readonly run: number;
  /** Against what it was judged, and how far from the mean the number shown lies; absent where unassigned. */
  readonly limits?: ControlLimits;
  readonly z?: number;
  /** A value that fits no level is rejected though unassigned; one that may be several levels stays `unassigned`. */
  readonly outcome: ControlOutcome;
  readonly fired: readonly Firing[];
  /** The control material had expired: a good result of it proves nothing. */
  readonly isExpired: boolean;
}

/** How controls are judged. */
export interface ControlPractice {
  readonly rules: RuleSet;
  readonly runMinutes: number;
  readonly localDate: LocalDate;
  /** Limits in place of the stated ones, such as a clinic's own for that meter. Undefined: the stated ones. */
  readonly limitsOf?: (level: ControlLevel, meter: string) => ControlLimits | undefined;
}

/**
 * Judges control tests of any number of meters; the result is in order of time, and in the given order where times are
 * equal. Rejected values stay in the history that later values are held to. A new run begins when its time is over, with
 * another strip lot, and when a level is measured again. A new control lot begins its own history; and with the first
 * value of a lot that replaces another of the same level, the history over all levels begins anew too.
 */
export function judgeControls(
  readings: readonly ControlReading[],
  levels: readonly ControlLevel[],
  practice: ControlPractice,
): readonly JudgedControl[] {
  const charts = new Map<string, Chart>();
  return readings
    .toSorted((a, b) => a.time.at - b.time.at)
    .map((reading) => {
      const match = matchLevel(reading, levels, practice.localDate(reading.time.at));
      const kind = reading.kind ?? kindOf(match);
      const key = JSON.stringify([reading.meter, reading.analyte, kind]);
      const chart = charts.get(key) ?? newChart();
      charts.set(key, chart);
      const run = numberOfRun(chart, reading, match, practice.runMinutes);
      const about = { reading, match, run, ...(kind && { kind }) };
      return match.kind === 'unassigned'
        ? { ...about, ...withoutLevel(match.why), isExpired: false }
        : { ...about, ...withLevel(chart, reading, match.level, practice) };
    });
}

/** What a chart remembers while its values come in. Only the arrays of the newest values are looked at by rules. */
interface Chart {
  run: number;
  runBegan: number;
  runStripLot: string | undefined;
  runLevels: Set<string>;
  inRun: ScoredValue[];
  all: ScoredValue[];
  readonly byMaterial: Map<string, ScoredValue[]>;
  readonly levelsSeen: Set<string>;
}

const newChart = (): Chart => ({
  run: 0,
  runBegan: Number.NEGATIVE_INFINITY,
  runStripLot: undefined,
  runLevels: new Set(),
  inRun: [],
  all: [],
  byMaterial: new Map(),
  levelsSeen: new Set(),
});

function numberOfRun(chart: Chart, reading: ControlReading, match: LevelMatch, runMinutes: number): number {
  const level = match.kind === 'unassigned' ? undefined : match.level.level;
  const isOver = reading.time.at - chart.runBegan > runMinutes * 60_000 || reading.stripLot !== chart.runStripLot;
  if (chart.run === 0 || isOver || (level !== undefined && chart.runLevels.has(level))) {
    chart.run += 1;
    chart.runBegan = reading.time.at;
    chart.runStripLot = reading.stripLot;
    chart.runLevels = new Set();
    chart.inRun = [];
  }
  if (level !== undefined) chart.runLevels.add(level);
  return chart.run;
}

function withLevel(chart: Chart, reading: ControlReading, level: ControlLevel, practice: ControlPractice) {
  const limits = practice.limitsOf?.(level, reading.meter) ?? statedLimits(level);
  const z = zScore(reading.value, limits);
  const { id, beyond } = reading;
  const value: ScoredValue = { id, level: level.level, z, ...(beyond && { beyond }) };
  const name = materialOf(level);
  const material = chart.byMaterial.get(name) ?? [];
  if (!chart.byMaterial.has(name)) {
    if (chart.levelsSeen.has(level.level)) chart.all = [];
    chart.byMaterial.set(name, material);
    chart.levelsSeen.add(level.level);
  }
  material.push(value);
  chart.all.push(value);
  chart.inRun.push(value);
  const fired = practice.rules.rules.flatMap((rule): Firing[] => {
    const values = fire(rule, { material, all: chart.all, run: chart.inRun });
    return values
      ? [{ rule: rule.name, outcome: rule.outcome, error: rule.error, values, sentence: firingSentence(rule, values) }]
      : [];
  });
  const day = practice.localDate(reading.time.at);
  return {
    limits,
    z,
    outcome: worst(fired),
    fired,
    isExpired: level.expiry !== undefined && isExpired(level.expiry, day),
  };
}

function withoutLevel(why: 'no-level' | 'ambiguous' | 'outside-all'): {
  readonly outcome: ControlOutcome;
  readonly fired: readonly Firing[];
} {
  if (why !== 'outside-all') return { outcome: 'unassigned', fired: [] };
  const sentence =
    'The value lies more than 3 s from the mean of every control that it could be, so it failed whichever it was.';
  return {
    outcome: 'reject',
    fired: [{ rule: 'outside-all', outcome: 'reject', error: 'either', values: [], sentence }],
  };
}

/** The one kind that all levels in question have. */
function kindOf(match: LevelMatch): ControlKind | undefined {
  const [first, ...others] = levelsInQuestion(match);
  return first && others.every((l) => l.kind === first.kind) ? first.kind : undefined;
}

/** The gravest outcome among firings. */
const worst = (fired: readonly Firing[]): ControlOutcome =>
  fired.some((f) => f.outcome === 'reject') ? 'reject' : fired.length > 0 ? 'warn' : 'accept';
