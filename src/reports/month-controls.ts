/** How the control tests of a month came out, liquid and electronic apart. */

import { judgeControls } from '../clinic/controls/assess.ts';
import type { LocalDate } from '../clinic/facts.ts';
import { type Instant, instant } from '../core/instant.ts';
import { controlPractice, controlReadings, levelFacts } from '../record/control-tests.ts';
import type { Store } from '../store/store.ts';

/** Control tests by outcome. */
export interface OutcomeCounts {
  readonly accept: number;
  readonly warn: number;
  readonly reject: number;
  readonly unassigned: number;
}

/** `unknown`: neither meter nor register tells which kind of control it was. */
export type ControlOutcomes = Readonly<Record<'liquid' | 'electronic' | 'unknown', OutcomeCounts>>;

/** The rules look back over some ten values of a chart: a year before the month holds them. */
const LOOK_BACK_MS = 366 * 86_400_000;

/** Judges the controls of the month by the history before it. */
export function outcomesOfMonth(store: Store, from: Instant, until: Instant, localDate: LocalDate): ControlOutcomes {
  const levels = store.controls.list();
  const tests = store.judged.list({ kind: 'control', since: instant(Math.max(0, from - LOOK_BACK_MS)), until });
  const judged = judgeControls(
    controlReadings(tests, levels, String),
    levels.map(levelFacts),
    controlPractice(localDate),
  );
  const counts = { accept: 0, warn: 0, reject: 0, unassigned: 0 };
  const found = { liquid: { ...counts }, electronic: { ...counts }, unknown: { ...counts } };
  for (const { reading, kind, outcome } of judged) if (reading.time.at >= from) found[kind ?? 'unknown'][outcome]++;
  return found;
}
