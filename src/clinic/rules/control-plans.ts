/** When control tests are due: plans that a clinic may choose from or replace by its own. */
import type { ControlPlan } from '../controls/due.ts';

/** The default: the strictest written rule known for this kind of test. */
export const CONTROL_PLAN_EIGHT_HOURS: ControlPlan = {
  levels: 2,
  kind: 'liquid',
  everyHoursOfOperation: 8,
  source: {
    name: 'US rule for nonmanual coagulation tests',
    edition: '42 CFR 493.1269(b)',
    citation:
      'lawserver.com; holds for non-waived tests: two levels each 8 hours of operation and at each reagent change',
  },
};

/** For meters of which the maker asks for controls with each new lot, and a clinic wants one a month besides. */
export const CONTROL_PLAN_MONTHLY: ControlPlan = {
  levels: 2,
  kind: 'liquid',
  everyDays: 30,
  source: {
    name: 'Each new strip lot and every 30 days',
    edition: '1',
    citation: "common practice, no source; the meter's own instructions come first",
  },
};
