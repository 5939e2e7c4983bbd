/** In or out of control, what is due, charts and own limits. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ControlPlan, controlsDue } from '../../../src/clinic/controls/due.ts';
import { leveyJennings } from '../../../src/clinic/controls/levey-jennings.ts';
import { chooseLimits } from '../../../src/clinic/controls/own-limits.ts';
import {
  controlHistory,
  outOfControlSpans,
  standingAt,
  wasOutOfControl,
} from '../../../src/clinic/controls/standing.ts';
import { CONTROL_HABITS } from '../../../src/clinic/rules/control-habits.ts';
import { CONTROL_PLAN_EIGHT_HOURS, CONTROL_PLAN_MONTHLY } from '../../../src/clinic/rules/control-plans.ts';
import { instant } from '../../../src/core/instant.ts';
import { seedOr } from '../../support/seed.ts';
import { CHIP, control, HIGH, HOUR, judge, LOW, PRACTICE, START } from './made.ts';

const at = (hours: number) => instant(START + hours * HOUR);

describe('a meter with a strip lot', () => {
  const judged = judge([
    control('good', LOW, 0, 0),
    control('fail-1', LOW, 3.5, 24),
    control('good-2', HIGH, 0, 24.1),
    control('again', LOW, -3.5, 25),
    control('clear', LOW, 0.5, 26),
  ]);
  const history = controlHistory('M1', 'S1', judged);

  it('is out of control from the failure until the same level passes again', () => {
    expect(outOfControlSpans('M1', 'S1', judged)).toMatchObject([
      { from: at(24), until: at(26), failed: ['fail-1', 'again'], lastGood: { id: 'good', at: at(0) } },
    ]);
    expect([-1, 0, 23.9, 24, 25.9, 26].map((h) => standingAt(history, at(h)).state)).toEqual([
      'never-controlled',
      'in-control',
      'in-control',
      'out-of-control',
      'out-of-control',
      'in-control',
    ]);
  });

  it('is nobody else: another lot and another meter were never controlled', () => {
    expect(controlHistory('M1', 'S2', judged)).toEqual({ spans: [], good: [] });
    expect(controlHistory('M2', 'S1', judged)).toEqual({ spans: [], good: [] });
  });

  it('stays out of control until every level whose value spoke has passed', () => {
    const across = judge([
      control('a', LOW, 2.5, 0),
      control('b', HIGH, 2.5, 0.1),
      control('c', HIGH, 0, 2),
      control('d', LOW, 0, 3),
    ]);
    expect(outOfControlSpans('M1', 'S1', across)).toMatchObject([{ from: at(0.1), until: at(3) }]);
  });

  it('is called out of control for every lot by a failed electronic control, and by a liquid one of an unknown lot', () => {
    const chip = judge([control('x', CHIP, 4, 0), control('y', CHIP, 0, 5)]);
    expect(outOfControlSpans('M1', 'any', chip)).toMatchObject([{ from: at(0), until: at(5) }]);
    expect(standingAt(controlHistory('M1', 'any', chip), at(6)).state).toBe('never-controlled');
    expect(standingAt(controlHistory('M1', 'any', chip, ['electronic']), at(6)).state).toBe('in-control');
    const { stripLot: _, ...unknown } = control('u', LOW, 4, 0);
    expect(outOfControlSpans('M1', 'any', judge([unknown]))).toMatchObject([{ from: at(0), failed: ['u'] }]);
  });

  it('does not come into control by an expired material or by a value that may be several levels', () => {
    const old = { ...LOW, expiry: '2026-03-01' };
    expect(controlHistory('M1', 'S1', judge([control('a', old, 0, 0)], [old])).good).toEqual([]);
    const { level: _, controlLot: __, ...vague } = control('a', LOW, 0, 0);
    expect(controlHistory('M1', 'S1', judge([vague], [LOW, { ...HIGH, limits: LOW.limits }])).good).toEqual([]);
  });

  it('asks the bounds of a test whether it was made out of control', () => {
    const { spans } = history;
    const was = (earliest: number, latest: number) =>
      wasOutOfControl({ at: at(earliest), earliest: at(earliest), latest: at(latest) }, spans).was;
    expect([was(24, 25.9), was(23, 25), was(25, 26), was(26, 30), was(20, 23)]).toEqual([
      'yes',
      'possibly',
      'possibly',
      'no',
      'no',
    ]);
    expect(wasOutOfControl({ at: at(30) }, spans).was).toBe('possibly');
  });

  const seed = seedOr(505);
  it(`agrees with asking at every moment whether some level has failed and not passed since (SEED=${seed})`, () => {
    const step = fc.record({ level: fc.constantFrom(LOW, HIGH), isBad: fc.boolean() });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 30 }), (steps) => {
        // Two hours apart each is a run of its own, and alternating sides keep the rules across levels silent.
        const readings = steps.map(({ level, isBad }, i) =>
          control(`c${i}`, level, (i % 2 ? 1 : -1) * (isBad ? 3.5 : 0.5), 2 * i),
        );
        const judged = judge(readings);
        const history = controlHistory('M1', 'S1', judged);
        for (const [i] of steps.entries()) {
          const before = judged.slice(0, i + 1);
          const isOut = ['1', '2'].some(
            (name) => before.findLast((j) => j.reading.level === name)?.outcome === 'reject',
          );
          const state = standingAt(history, at(2 * i)).state;
          expect(state).toBe(isOut ? 'out-of-control' : 'in-control');
        }
      }),
      { seed },
    );
  });
});

describe('the plan', () => {
  const ask = (plan: ControlPlan, judged: ReturnType<typeof judge>, tests: number[], now: number) =>
    controlsDue(plan, { meter: 'M1', stripLot: 'S1', judged, tests: tests.map(at), now: at(now) });
  const both = judge([control('a', LOW, 0, 0), control('b', HIGH, 0, 0.5)]);

  it('asks for controls with a new lot before the first test', () => {
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, [], [], 0)).toMatchObject({ status: 'due', testsWithout: 0 });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, [], [1, 2], 3)).toMatchObject({ status: 'overdue', testsWithout: 2 });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, judge([control('a', LOW, 0, 0)]), [], 1).status).toBe('due');
  });

  it('counts from the older of two levels, and is overdue only once the meter is used', () => {
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [1, 7], 7.9)).toMatchObject({
      status: 'in-time',
      lastGood: at(0),
      nextDue: at(8),
    });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [1, 7], 100)).toMatchObject({ status: 'due', testsWithout: 0 });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [1, 8, 9], 10)).toMatchObject({ status: 'overdue', testsWithout: 2 });
  });

  it('by days is overdue when they are over, used or not', () => {
    expect(ask(CONTROL_PLAN_MONTHLY, both, [], 29 * 24).status).toBe('in-time');
    expect(ask(CONTROL_PLAN_MONTHLY, both, [], 30 * 24).status).toBe('overdue');
  });

  it('does not count a level that failed after it passed, nor another kind of control', () => {
    const failed = judge([control('a', LOW, 0, 0), control('b', HIGH, 0, 0.5), control('c', HIGH, 5, 1)]);
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, failed, [2], 3)).toMatchObject({ status: 'overdue', testsWithout: 1 });
    expect(ask({ ...CONTROL_PLAN_MONTHLY, kind: 'electronic', levels: 1 }, both, [], 1).status).toBe('due');
    expect(
      ask({ ...CONTROL_PLAN_MONTHLY, kind: 'electronic', levels: 1 }, judge([control('x', CHIP, 0, 0)]), [], 1).status,
    ).toBe('in-time');
  });
});

describe('a Levey-Jennings chart', () => {
  it('has points in order with the lines of their own lot, new strip lots and the rules that spoke', () => {
    const next = { ...LOW, lot: 'K2', limits: { mean: 110, sd: 5 } };
    const charts = leveyJennings(
      judge(
        [
          control('a', LOW, 1, 0),
          control('h', HIGH, 1, 0.1),
          control('b', LOW, 3.5, 24, { stripLot: 'S2', operator: 'ida' }),
          control('c', next, -1, 48, { stripLot: 'S2' }),
        ],
        [LOW, HIGH, next],
      ),
    );
    expect(
      charts.map((c) => [c.level, c.lots.map((l) => [l.controlLot, l.first, l.points.map((p) => [p.id, p.index])])]),
    ).toEqual([
      [
        '1',
        [
          [
            'K1',
            0,
            [
              ['a', 0],
              ['b', 1],
            ],
          ],
          ['K2', 2, [['c', 2]]],
        ],
      ],
      ['2', [['K1', 0, [['h', 0]]]]],
    ]);
    const [low] = charts;
    expect(low?.lots[0]?.points[1]).toMatchObject({
      isNewStripLot: true,
      operator: 'ida',
      z: 3.5,
      outcome: 'reject',
      rules: ['1-2s', '1-3s'],
    });
    expect(low?.lots[1]?.lines.map((l) => l.value)).toEqual([95, 100, 105, 110, 115, 120, 125]);
  });
});

describe('own limits', () => {
  const values = (n: number, days: number) =>
    Array.from({ length: n }, (_, i) => control(`c${i}`, LOW, i % 2, (i % days) * 24));
  const choose = (n: number, days: number) => chooseLimits(LOW, values(n, days), CONTROL_HABITS, PRACTICE.localDate);

  it('need twenty values from ten days', () => {
    expect(choose(19, 19).limits.basis).toBe('stated');
    expect(choose(40, 9)).toMatchObject({ limits: { mean: 100, sd: 10, basis: 'stated' }, values: 40, days: 9 });
    const own = choose(20, 10).limits;
    expect(own).toMatchObject({ basis: 'own', mean: 105 });
    expect(own.sd).toBeCloseTo(5 * Math.sqrt(20 / 19), 12);
  });

  it('are what later values are held to where the practice says so', () => {
    const own = choose(20, 10).limits;
    const [judged] = judge([control('n', LOW, 2.1, 0)], [LOW], { ...PRACTICE, limitsOf: () => own });
    expect(judged).toMatchObject({ limits: own, outcome: 'reject' });
  });

  it('are not made of values that are all alike', () => {
    const same = values(20, 20).map((r) => ({ ...r, value: 100 }));
    expect(chooseLimits(LOW, same, CONTROL_HABITS, PRACTICE.localDate).limits.basis).toBe('stated');
  });
});
