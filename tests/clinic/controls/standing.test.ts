/** In or out of control, what is due, charts and own limits. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ControlPlan, controlsDue } from '../../../src/clinic/controls/due.ts';
import { leveyJennings } from '../../../src/clinic/controls/levey-jennings.ts';
import { chooseLimits } from '../../../src/clinic/controls/own-limits.ts';
import type { ControlRule } from '../../../src/clinic/controls/rule-set.ts';
import {
  controlHistory,
  outOfControlSpans,
  standingAt,
  wasOutOfControl,
} from '../../../src/clinic/controls/standing.ts';
import { CONTROL_HABITS } from '../../../src/clinic/rules/control-habits.ts';
import { CONTROL_PLAN_EIGHT_HOURS, CONTROL_PLAN_MONTHLY } from '../../../src/clinic/rules/control-plans.ts';
import { MULTIRULE } from '../../../src/clinic/rules/multirule.ts';
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
    // It is said why: not the warning that the same value brought.
    expect(outOfControlSpans('M1', 'S1', judged)[0]?.sentence).toContain('rule 1-3s');
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

  it('is good only for what came after the last level passed', () => {
    const two = judge([control('a', LOW, 4, 0), control('b', HIGH, 0, 2), control('c', LOW, 0, 4)]);
    expect(controlHistory('M1', 'S1', two).good).toEqual([{ id: 'c', at: at(4) }]);
  });

  it('does not wait for a level whose value only warned', () => {
    // b warns; c fails alone, in another run, and brings only its own level into question.
    const warned = judge([control('b', HIGH, 2.5, 0), control('c', LOW, -3.5, 2), control('d', LOW, 0, 4)]);
    expect(outOfControlSpans('M1', 'S1', warned)).toMatchObject([{ from: at(2), until: at(4) }]);
  });

  it('does not wait for a level with which the failed one only made a rule warn', () => {
    const warning: ControlRule = {
      name: '2-2s',
      kind: 'same-side',
      count: 2,
      of: 2,
      beyond: 2,
      scopes: ['all'],
      outcome: 'warn',
      error: 'systematic',
    };
    const rules = { ...MULTIRULE, rules: [warning, ...MULTIRULE.rules.filter((r) => r.name === '1-3s')] };
    const judged = judge(
      [control('a', HIGH, 2.5, 0), control('b', LOW, 3.5, 0.1), control('c', LOW, 0, 3)],
      [LOW, HIGH],
      { ...PRACTICE, rules },
    );
    expect(judged[1]?.fired.map((f) => [f.rule, f.outcome])).toEqual([
      ['2-2s', 'warn'],
      ['1-3s', 'reject'],
    ]);
    expect(outOfControlSpans('M1', 'S1', judged)).toMatchObject([{ from: at(0.1), until: at(3) }]);
  });

  it('waits for every level that a failed control of no known kind could be, and for nothing more', () => {
    const { level: _, controlLot: __, ...vague } = control('v', LOW, 0, 0, { value: 250 });
    const judged = judge([vague, control('a', LOW, 0, 2), control('b', HIGH, 0, 4), control('c', CHIP, 0, 6)]);
    expect(judged[0]).not.toHaveProperty('kind');
    expect(outOfControlSpans('M1', 'S1', judged)).toMatchObject([{ from: at(0), until: at(6), failed: ['v'] }]);
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
    expect([was(20, 24), was(24, 26)]).toEqual(['possibly', 'possibly']);
    const open = [{ from: at(24), failed: ['x'], sentence: 'x' }];
    expect(wasOutOfControl({ at: at(25), earliest: at(24), latest: at(999) }, open).was).toBe('yes');
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

  it('says in one sentence what is missing', () => {
    const one = { ...CONTROL_PLAN_EIGHT_HOURS, levels: 1 };
    const said = (plan: ControlPlan, judged: ReturnType<typeof judge>, tests: number[], now: number) =>
      ask(plan, judged, tests, now).sentence;
    expect(said(CONTROL_PLAN_EIGHT_HOURS, [], [], 0)).toBe(
      'This meter needs controls of 2 levels with this strip lot before it is used.',
    );
    expect(said({ ...one, kind: 'electronic' }, [], [1], 3)).toBe(
      'This meter needs a control before it is used; 1 test was made without.',
    );
    expect(said(one, both, [1], 2)).toBe('The controls are in time.');
    expect(said(one, both, [1], 100)).toBe('Before its next test this meter needs a control.');
    expect(said(CONTROL_PLAN_EIGHT_HOURS, both, [9, 10], 11)).toBe(
      'This meter needed controls of 2 levels; 2 tests were made without.',
    );
    expect(said(CONTROL_PLAN_MONTHLY, both, [], 31 * 24)).toBe('This meter needed controls of 2 levels.');
  });

  it('without an interval is met until the next strip lot', () => {
    const { everyDays: _, ...onceALot } = CONTROL_PLAN_MONTHLY;
    expect(ask(onceALot, both, [1], 9999)).toEqual({
      status: 'in-time',
      lastGood: at(0),
      testsWithout: 0,
      sentence: 'No controls are due until the next strip lot.',
    });
  });

  it('by hours and by days asks again after whichever is over first, and is overdue after the days', () => {
    const either = { ...CONTROL_PLAN_MONTHLY, everyHoursOfOperation: 8 };
    expect(ask(either, both, [], 9)).toMatchObject({ status: 'due', nextDue: at(8) });
    expect(ask(either, both, [], 30 * 24 - 0.1).status).toBe('due');
    expect(ask(either, both, [], 30 * 24).status).toBe('overdue');
  });

  it('looks at what was made up to that very moment, and at nothing later', () => {
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, [], [3, 4], 3)).toMatchObject({ status: 'overdue', testsWithout: 1 });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [9, 10], 9)).toMatchObject({ status: 'overdue', testsWithout: 1 });
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [], 0.5).status).toBe('in-time');
    expect(ask(CONTROL_PLAN_EIGHT_HOURS, both, [], 0.4).status).toBe('due');
  });

  it('counts only what proves this meter with this strip lot', () => {
    const one = { ...CONTROL_PLAN_MONTHLY, levels: 1 };
    const status = (plan: ControlPlan, judged: ReturnType<typeof judge>) => ask(plan, judged, [], 1).status;
    expect(status(one, judge([control('a', LOW, 0, 0)]))).toBe('in-time');
    expect(status(one, judge([control('a', LOW, 0, 0, { meter: 'M2' })]))).toBe('due');
    expect(status(one, judge([control('a', LOW, 0, 0, { stripLot: 'S2' })]))).toBe('due');
    expect(status({ ...one, kind: 'electronic' }, judge([control('x', CHIP, 0, 0, { stripLot: 'S2' })]))).toBe(
      'in-time',
    );
    const old = { ...LOW, expiry: '2026-03-01' };
    expect(status(one, judge([control('a', old, 0, 0)], [old]))).toBe('due');
    const { level: _, controlLot: __, ...vague } = control('a', LOW, 0, 0);
    expect(status(one, judge([vague], [LOW, { ...HIGH, limits: LOW.limits }]))).toBe('due');
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
    expect(low?.lots[0]?.points[0]).toMatchObject({ stripLot: 'S1', isNewStripLot: false });
    expect(low?.lots[0]?.points[0]).not.toHaveProperty('operator');
    expect(low?.lots[1]?.points[0]).toMatchObject({ stripLot: 'S2', isNewStripLot: false });
  });

  it('marks a strip lot where it is new on the chart only', () => {
    const lots = ['S1', 'S1', 'S2', 'S2'];
    const [chart] = leveyJennings(judge(lots.map((stripLot, i) => control(`c${i}`, LOW, 0, 24 * i, { stripLot }))));
    expect(chart?.lots[0]?.points.map((p) => p.isNewStripLot)).toEqual([false, false, true, false]);
  });

  it('has no point for a control of no level, and charts in order of the meters', () => {
    const { level: _, controlLot: __, ...untold } = control('u', LOW, 0, 2, { value: 250, kind: 'liquid' });
    const { stripLot: ___, ...ofNoLot } = control('s', LOW, 0, 4);
    const charts = leveyJennings(
      judge([
        control('b', LOW, 1, 0, { meter: 'M2' }),
        control('c', LOW, 1, 0, { meter: 'M3' }),
        control('a', HIGH, 0.5, 1, { beyond: '>' }),
        untold,
        ofNoLot,
        control('t', LOW, 0, 6),
      ]),
    );
    expect(charts.map((c) => [c.meter, c.level, c.lots.flatMap((l) => l.points.map((p) => p.id))])).toEqual([
      ['M1', '1', ['s', 't']],
      ['M1', '2', ['a']],
      ['M2', '1', ['b']],
      ['M3', '1', ['c']],
    ]);
    expect(charts[1]?.lots[0]?.points[0]).toMatchObject({ beyond: '>', rules: ['1-2s', '1-3s'] });
    expect(charts[0]?.lots[0]?.points.map((p) => p.isNewStripLot)).toEqual([false, true]);
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

  it('leave out values off the measuring range, and say from how many they are or why they are not', () => {
    const off = control('off', LOW, 9, 0, { beyond: '>' });
    const own = chooseLimits(LOW, [...values(20, 10), off], CONTROL_HABITS, PRACTICE.localDate);
    expect(own).toMatchObject({ values: 20, limits: { basis: 'own', mean: 105 } });
    expect(own.sentence).toBe('Own limits, from 20 values from 10 days.');
    expect(choose(40, 9).sentence).toBe(
      'The stated limits: there are 40 values from 9 days, and own limits need 20 values from 10 days.',
    );
    expect(choose(19, 10).sentence).toBe(
      'The stated limits: there are 19 values from 10 days, and own limits need 20 values from 10 days.',
    );
    const same = values(20, 10).map((r) => ({ ...r, value: 100 }));
    expect(chooseLimits(LOW, same, CONTROL_HABITS, PRACTICE.localDate).sentence).toBe(
      'The stated limits: there are 20 values from 10 days, and all are alike, so they have no spread.',
    );
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
