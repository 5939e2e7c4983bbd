/** Puts judged control tests together by run: what a person signs is the run, not the single value. */
import { groupBy } from '../group-by.ts';
import type { ControlOutcome, JudgedControl } from './assess.ts';
import type { Firing } from './fire.ts';
import type { ControlKind } from './level.ts';

/** One run: controls of one meter, analyte, kind and strip lot that were measured together. */
export interface ControlRun {
  readonly meter: string;
  readonly analyte: string;
  readonly kind?: ControlKind;
  readonly run: number;
  readonly controls: readonly JudgedControl[];
  /** The gravest of its controls: reject, then unassigned, then warn. */
  readonly outcome: ControlOutcome;
  readonly fired: readonly Firing[];
}

const GRAVEST: readonly ControlOutcome[] = ['reject', 'unassigned', 'warn', 'accept'];

/** The runs of judged controls, in the order in which each began. */
export function controlRuns(judged: readonly JudgedControl[]): readonly ControlRun[] {
  const runs = groupBy(judged, (j) => JSON.stringify([j.reading.meter, j.reading.analyte, j.kind, j.run]));
  return [...runs.values()].flatMap((controls): ControlRun[] => {
    const [first] = controls;
    if (!first) return [];
    const { reading, kind, run } = first;
    const outcome = GRAVEST.find((o) => controls.some((c) => c.outcome === o)) ?? 'accept';
    const fired = controls.flatMap((c) => c.fired);
    return [{ meter: reading.meter, analyte: reading.analyte, ...(kind && { kind }), run, controls, outcome, fired }];
  });
}
