/** Where the points of a Levey-Jennings picture stand. Pure. */
import type { ChartLot, ChartPoint, ControlChart } from '../../../clinic/controls/levey-jennings.ts';
import type { Shape } from '../parts/chart/pen.ts';

/** Farther out a value stands at the rim. */
export const RIM_SD = 4;
/** So many of the newest points are drawn. */
const MOST = 60;

export interface PlacedPoint {
  readonly x: number;
  /** Standard deviations from the mean, within the rim. */
  readonly y: number;
  readonly shape: Shape;
  readonly point: ChartPoint;
}

/** The points of one control lot with its own lines. */
export interface LotStretch {
  readonly lot: ChartLot;
  readonly from: number;
  readonly to: number;
  readonly points: readonly PlacedPoint[];
}

/** The newest points by lot, and how many there are. */
export function controlPoints({ lots }: ControlChart): {
  readonly stretches: readonly LotStretch[];
  readonly all: number;
  readonly shown: number;
} {
  const all = lots.reduce((sum, lot) => sum + lot.points.length, 0);
  let leave = Math.max(0, all - MOST);
  let next = 0;
  const stretches = lots.flatMap((lot): LotStretch[] => {
    const left = Math.min(leave, lot.points.length);
    leave -= left;
    const first = next;
    const points = lot.points.slice(left).map((point): PlacedPoint => placed(point, next++));
    return points.length === 0 ? [] : [{ lot, from: first - 0.5, to: next - 0.5, points }];
  });
  return { stretches, all, shown: next };
}

function placed(point: ChartPoint, x: number): PlacedPoint {
  const z = point.beyond === '>' ? RIM_SD : point.beyond === '<' ? -RIM_SD : point.z;
  const y = Math.max(-RIM_SD + 0.3, Math.min(RIM_SD - 0.3, z));
  const shape = point.outcome === 'reject' ? (z > 0 ? 'up' : 'down') : point.outcome === 'warn' ? 'ring' : 'round';
  return { x, y, shape, point };
}
