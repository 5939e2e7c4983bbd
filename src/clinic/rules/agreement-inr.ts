/**
 * How far a meter's INR may lie from the laboratory's, as rules in use say. The figures of standards are from memory: a
 * screen says 'compared with', and whoever needs the standard reads the bought copy.
 */
import type { AgreementRule } from './agreement-rule.ts';

/** ISO 17593:2007 for self-testing. */
export const ISO_17593_2007: AgreementRule = {
  source: {
    name: 'ISO 17593',
    edition: '2007 (withdrawn 2022)',
    citation: 'figures from memory; withdrawal: standards.iteh.ai. It says nothing of laboratory values over 4.5',
  },
  analyte: 'INR',
  unit: '{INR}',
  demands: [
    {
      atLeastPercent: 90,
      limits: [
        { span: { below: 2 }, allowed: { units: 0.5 } },
        { span: { from: 2, to: 4.5 }, allowed: { percent: 30 } },
      ],
    },
  ],
};

/** The stepped bands of CLSI POCT14. Low confidence. */
export const POCT14_ED2: AgreementRule = {
  source: {
    name: 'CLSI POCT14',
    edition: 'Ed2 (2020)',
    citation: 'from memory, low confidence: bands about so, the share of 90 % assumed, below 2.0 not known',
  },
  analyte: 'INR',
  unit: '{INR}',
  demands: [
    {
      atLeastPercent: 90,
      limits: [
        // The steps 3.5 | 3.6 and 4.5 | 4.6 are those of values with one decimal; laboratories give two.
        { span: { from: 2, to: 3.5 }, allowed: { percent: 20 } },
        { span: { over: 3.5, to: 4.5 }, allowed: { percent: 25 } },
        { span: { over: 4.5, to: 6 }, allowed: { percent: 30 } },
      ],
    },
  ],
};

/** Within half a unit, over all values. */
export const WITHIN_HALF_A_UNIT: AgreementRule = {
  source: {
    name: 'Within 0.5 INR',
    edition: 'practice',
    citation: 'mlo-online 2011: what good meters reach; BSH 2014 (Br J Haematol 167:600) asks for 0.5 (from memory)',
  },
  analyte: 'INR',
  unit: '{INR}',
  demands: [{ atLeastPercent: 90, limits: [{ span: {}, allowed: { units: 0.5 } }] }],
};
