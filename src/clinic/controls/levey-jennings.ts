/** Levey-Jennings charts as plain data: whoever draws needs no arithmetic but the scale. */
import type { TimeSpan } from '../facts.ts';
import { groupBy } from '../group-by.ts';
import type { ControlOutcome, JudgedControl } from './assess.ts';
import type { ControlKind, ControlLimits } from './level.ts';

/** One point. Points stand side by side in the order in which they were measured, not at distances of time. */
export interface ChartPoint {
  readonly id: string;
  /** Place on the chart, from 0. */
  readonly index: number;
  readonly run: number;
  readonly time: TimeSpan;
  readonly value: number;
  /** Standard deviations from the mean, of the number shown. */
  readonly z: number;
  /** Set where the true value lies beyond the number shown. */
  readonly beyond?: '<' | '>';
  readonly operator?: string;
  readonly stripLot?: string;
  /** True where the strip lot differs from that of the point before. */
  readonly isNewStripLot: boolean;
  readonly outcome: ControlOutcome;
  /** Names of the rules that spoke at this point. */
  readonly rules: readonly string[];
}

/** The points of one control lot, with its own lines; the history begins anew with each. */
export interface ChartLot {
  readonly controlLot: string;
  /** Index of its first point. */
  readonly first: number;
  readonly limits: ControlLimits;
  /** Values at the mean and at 1, 2 and 3 standard deviations on either side, lowest first. */
  readonly lines: readonly { readonly sd: -3 | -2 | -1 | 0 | 1 | 2 | 3; readonly value: number }[];
  readonly points: readonly ChartPoint[];
}

/** One chart: a level of a meter. */
export interface ControlChart {
  readonly meter: string;
  readonly analyte: string;
  readonly kind: ControlKind;
  readonly level: string;
  /** In the order in which each lot was first measured; where two lots were in use side by side each has its own points. */
  readonly lots: readonly ChartLot[];
}

const LINES = [-3, -2, -1, 0, 1, 2, 3] as const;

/** The charts of judged controls; unassigned ones are on none. Ordered by meter, analyte, kind and level. */
export function leveyJennings(judged: readonly JudgedControl[]): readonly ControlChart[] {
  const placed = judged.flatMap((control) => {
    const { match, limits, z } = control;
    return match.kind === 'unassigned' || !limits || z === undefined
      ? []
      : [{ control, level: match.level, limits, z }];
  });
  const charts = groupBy(placed, ({ control, level }) =>
    JSON.stringify([control.reading.meter, level.analyte, level.kind, level.level]),
  );
  return [...charts.entries()]
    .toSorted(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([, points]): ControlChart[] => {
      const [head] = points;
      if (!head) return [];
      const lots: ChartLot[] = [];
      let first = 0;
      for (const [controlLot, ofLot] of groupBy(points, (p) => p.level.lot)) {
        const limits = ofLot[0]?.limits ?? head.limits;
        const lines = LINES.map((sd) => ({ sd, value: limits.mean + sd * limits.sd }));
        const drawn = ofLot.map(({ control, z }, i) => point(control, z, first + i, ofLot[i - 1]?.control));
        lots.push({ controlLot, first, limits, lines, points: drawn });
        first += ofLot.length;
      }
      const { meter } = head.control.reading;
      const { analyte, kind, level } = head.level;
      return [{ meter, analyte, kind, level, lots }];
    });
}

function point(control: JudgedControl, z: number, index: number, before: JudgedControl | undefined): ChartPoint {
  const { id, value, beyond, operator, stripLot, time } = control.reading;
  return {
    id,
    index,
    run: control.run,
    time,
    value,
    z,
    ...(beyond && { beyond }),
    ...(operator !== undefined && { operator }),
    ...(stripLot !== undefined && { stripLot }),
    isNewStripLot: before !== undefined && before.reading.stripLot !== stripLot,
    outcome: control.outcome,
    rules: control.fired.map((f) => f.rule),
  };
}
