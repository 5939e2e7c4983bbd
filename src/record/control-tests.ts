/** The control tests of a meter as the clinic's arithmetic is handed them, and what they say of it. */
import { type ControlPractice, type JudgedControl, judgeControls } from '../clinic/controls/assess.ts';
import type { ControlReading } from '../clinic/controls/control-reading.ts';
import type { ControlLevel } from '../clinic/controls/level.ts';
import type { LocalDate } from '../clinic/facts.ts';
import { CONTROL_HABITS } from '../clinic/rules/control-habits.ts';
import { MULTIRULE } from '../clinic/rules/multirule.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { Store } from '../store/store.ts';
import type { StoredControlLevel } from '../store/strip-lots.ts';

/** A level of the register as the arithmetic is handed it. */
export function levelFacts(stored: StoredControlLevel): ControlLevel {
  const { lot, level, analyte, kind, mean, sd, low, high, rangeSd, expiry } = stored;
  return {
    lot,
    level,
    analyte,
    kind,
    limits:
      mean !== undefined && sd !== undefined
        ? { mean: Number(mean), sd: Number(sd) }
        : { low: Number(low), high: Number(high), rangeSd: rangeSd === 3 ? 3 : 2 },
    ...(expiry === undefined ? {} : { expiry }),
  };
}

/** Control tests that were judged, void ones left out, as the arithmetic is handed them. `meterOf` names a meter. */
export function controlReadings(
  tests: readonly StoredJudged[],
  levels: readonly StoredControlLevel[],
  meterOf: (meterNo: number) => string,
): ControlReading[] {
  const byNumber = new Map(levels.map((l) => [l.levelNo, l]));
  return tests.flatMap((test): ControlReading[] => {
    const at = test.takenAt ?? test.earliest;
    if (test.status === 'void' || test.value === undefined || test.analyte === undefined || at === undefined) return [];
    const said = test.levelNo === undefined ? undefined : byNumber.get(test.levelNo);
    return [
      {
        id: test.reading,
        meter: meterOf(test.meterNo),
        analyte: test.analyte,
        ...(said ? { controlLot: said.lot, level: said.level } : {}),
        ...(test.lot === undefined ? {} : { stripLot: test.lot }),
        value: test.value,
        ...(test.beyond ? { beyond: test.beyond } : {}),
        time: {
          at,
          ...(test.earliest === undefined ? {} : { earliest: test.earliest }),
          ...(test.latest === undefined ? {} : { latest: test.latest }),
        },
      },
    ];
  });
}

/** How control tests are judged here. */
export const controlPractice = (localDate: LocalDate): ControlPractice => ({
  rules: MULTIRULE,
  runMinutes: CONTROL_HABITS.runMinutes,
  localDate,
});

/** The control tests of one meter, judged, in order of time. */
export function controlsOfMeter(store: Store, meterNo: number, localDate: LocalDate): readonly JudgedControl[] {
  const levels = store.controls.list();
  const readings = controlReadings(store.judged.list({ meterNo, kind: 'control' }), levels, String);
  return judgeControls(readings, levels.map(levelFacts), controlPractice(localDate));
}
