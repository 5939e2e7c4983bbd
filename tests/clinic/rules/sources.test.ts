/** Every limit and rule set names where it comes from: a clinic must be able to look it up, or see that there is nothing. */
import { describe, expect, it } from 'vitest';
import * as agreementGlucose from '../../../src/clinic/rules/agreement-glucose.ts';
import * as agreementInr from '../../../src/clinic/rules/agreement-inr.ts';
import * as comparison from '../../../src/clinic/rules/comparison-habits.ts';
import * as controlHabits from '../../../src/clinic/rules/control-habits.ts';
import * as controlPlans from '../../../src/clinic/rules/control-plans.ts';
import * as holdLimits from '../../../src/clinic/rules/hold-limits.ts';
import * as inrLimits from '../../../src/clinic/rules/inr-limits.ts';
import * as lotHabits from '../../../src/clinic/rules/lot-habits.ts';
import * as meterHabits from '../../../src/clinic/rules/meter-habits.ts';
import * as multirule from '../../../src/clinic/rules/multirule.ts';
import { DEFAULT_POLICY } from '../../../src/clinic/rules/policy.ts';
import * as reassessment from '../../../src/clinic/rules/reassessment-rules.ts';
import * as technique from '../../../src/clinic/rules/technique.ts';
import * as timeInRange from '../../../src/clinic/rules/time-in-range-rules.ts';
import * as trend from '../../../src/clinic/rules/trend-habits.ts';

/** Every `source` in a value, however deep, with the way to it. */
function sourcesIn(value: unknown, way: string): [string, unknown][] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, inner]): [string, unknown][] =>
    key === 'source' ? [[way, inner]] : sourcesIn(inner, `${way}.${key}`),
  );
}

const MODULES = {
  agreementGlucose,
  agreementInr,
  comparison,
  controlHabits,
  controlPlans,
  holdLimits,
  inrLimits,
  lotHabits,
  meterHabits,
  multirule,
  reassessment,
  technique,
  timeInRange,
  trend,
};

describe('the rules of the house', () => {
  it.each(Object.entries(MODULES))(
    '%s: every one has a name, an edition and where it is to be found',
    (name, rules) => {
      const found = sourcesIn({ ...rules }, name);
      expect(found.length).toBeGreaterThan(0);
      for (const [way, source] of found)
        expect(source, way).toEqual({
          name: expect.stringMatching(/\S/),
          edition: expect.stringMatching(/\S/),
          citation: expect.stringMatching(/\S/),
        });
    },
  );

  it('have a source for every exported set of figures', () => {
    for (const [name, rules] of Object.entries(MODULES))
      for (const [key, value] of Object.entries(rules))
        if (typeof value === 'object') expect(sourcesIn(value, `${name}.${key}`).length, `${name}.${key}`).not.toBe(0);
  });

  it('are what a clinic begins with', () => {
    expect(DEFAULT_POLICY).toEqual({
      idCheck: 'none',
      appointmentMinutes: 90,
      holds: holdLimits.HOLD_LIMITS,
      critical: { INR: inrLimits.INR_CRITICAL },
      targeted: expect.arrayContaining(['INR']),
    });
  });

  it('have no conditions beside the figures but those of CMS179', () => {
    const { ROSENDAAL_1993, NICE_NG196, CMS179 } = timeInRange;
    expect([ROSENDAAL_1993.conditions, NICE_NG196.conditions]).toEqual([[], []]);
    expect(CMS179.conditions.length).toBeGreaterThan(0);
  });

  it('advise on technique with a cause and something to do about it, each once', () => {
    const { causes } = technique.TECHNIQUE;
    expect(causes).toHaveLength(6);
    for (const one of causes)
      expect(one).toEqual({ cause: expect.stringMatching(/\S/), advice: expect.stringMatching(/\.$/) });
    expect(new Set(causes.map(({ cause }) => cause)).size).toBe(6);
  });
});
