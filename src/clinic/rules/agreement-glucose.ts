/**
 * How far a meter's glucose may lie from the laboratory's. ISO 15197 also asks for 99 % in the zones A and B of the
 * consensus error grid, which is not looked at here.
 */
import type { AgreementRule, AllowedDifference, Demand, ValueSpan } from './agreement-rule.ts';

const PMC = 'PMC4525642; without its error grid';
const TABLE_7_1 = 'Diabetes Care 2021;44 S1 table 7.1';

/** So many units below a border, so many percent from it on. */
const stepped = (atLeastPercent: number, border: number, units: number, percent: number): Demand => ({
  atLeastPercent,
  limits: [limit({ below: border }, { units }), limit({ from: border }, { percent })],
});
const limit = (span: ValueSpan, allowed: AllowedDifference) => ({ span, allowed });
const everywhere = (atLeastPercent: number, percent: number): Demand => ({
  atLeastPercent,
  limits: [limit({}, { percent })],
});

/** Rules in mg/dL. */
export const GLUCOSE_MASS_RULES: readonly AgreementRule[] = [
  {
    source: { name: 'ISO 15197', edition: '2013', citation: PMC },
    analyte: 'GLU',
    unit: 'mg/dL',
    demands: [stepped(95, 100, 15, 15)],
  },
  {
    source: { name: 'ISO 15197', edition: '2003 (replaced 2013)', citation: PMC },
    analyte: 'GLU',
    unit: 'mg/dL',
    demands: [stepped(95, 75, 15, 20)],
  },
  {
    source: { name: 'FDA home glucose', edition: 'as of 2021', citation: TABLE_7_1 },
    analyte: 'GLU',
    unit: 'mg/dL',
    demands: [everywhere(95, 15), everywhere(99, 20)],
  },
  {
    source: { name: 'FDA hospital glucose', edition: 'as of 2021', citation: TABLE_7_1 },
    analyte: 'GLU',
    unit: 'mg/dL',
    demands: [stepped(95, 75, 12, 12), stepped(98, 75, 15, 15)],
  },
];

/** The rules that are printed in mmol/L too. */
export const GLUCOSE_MOLAR_RULES: readonly AgreementRule[] = [
  {
    source: { name: 'ISO 15197', edition: '2013', citation: 'mmol/L figures from memory; without its error grid' },
    analyte: 'GLU',
    unit: 'mmol/L',
    demands: [stepped(95, 5.55, 0.83, 15)],
  },
  {
    source: {
      name: 'ISO 15197',
      edition: '2003 (replaced 2013)',
      citation: 'mmol/L figures from memory; without its error grid',
    },
    analyte: 'GLU',
    unit: 'mmol/L',
    demands: [stepped(95, 4.2, 0.83, 20)],
  },
  {
    source: { name: 'FDA home glucose', edition: 'as of 2021', citation: TABLE_7_1 },
    analyte: 'GLU',
    unit: 'mmol/L',
    demands: [everywhere(95, 15), everywhere(99, 20)],
  },
];
