/**
 * What is measured, in codes that other systems know: our short name and the meter's unit to a LOINC code and a UCUM
 * unit. A unit decides over the code (glucose by mass and by amount have two), so a unit that is not listed here gets
 * no code at all: better none than a wrong one. Knows nothing of FHIR or HL7.
 *
 * Sources stand beside each row. `LOINC list`: code and name seen together in published lists of LOINC terms; `code
 * seen, name from memory`: check against the LOINC table before anything claims conformity. UCUM units were checked
 * with the UCUM library of the US National Library of Medicine.
 */
import { TARGETED } from '../core/outgoing.ts';
import type { Value } from '../core/reading.ts';

/** One analyte in one kind of unit. */
export interface AnalyteCode {
  /** LOINC code; for capillary blood where LOINC has one. */
  readonly loinc: string;
  /** LOINC's name; absent where it is not confirmed. */
  readonly display?: string;
  /** UCUM units that this code stands for. The first is meant where a meter gives none, if `hasOneUnit`. */
  readonly units: readonly [string, ...string[]];
  /** True where the quantity has only one unit, so that a value without one is still clear. */
  readonly hasOneUnit?: true;
  /** Where code and name come from. */
  readonly source: string;
}

/** One thing that meters measure. */
export interface Analyte {
  /** Plain name for people. */
  readonly name: string;
  /** Empty where no code is confirmed. */
  readonly codes: readonly AnalyteCode[];
}

const LIST = 'LOINC list';

/** Every analyte by its short name. */
export const ANALYTES: ReadonlyMap<string, Analyte> = new Map<string, Analyte>([
  [
    'INR',
    {
      name: 'INR',
      codes: [
        {
          loinc: '46418-0',
          display: 'INR in Capillary blood by Coagulation assay',
          units: ['{INR}', '1'],
          hasOneUnit: true,
          source: LIST,
        },
      ],
    },
  ],
  [
    'PT',
    {
      name: 'Prothrombin time',
      codes: [
        {
          loinc: '46417-2',
          display: 'Prothrombin time (PT) in Capillary blood by Coagulation assay',
          units: ['s'],
          source: LIST,
        },
      ],
    },
  ],
  [
    'APTT',
    {
      name: 'Activated partial thromboplastin time',
      // LOINC has no capillary code that we found; this one says "Blood", which a finger-stick is.
      codes: [
        {
          loinc: '3173-2',
          display: 'aPTT in Blood by Coagulation assay',
          units: ['s'],
          source: 'code seen, name from memory',
        },
      ],
    },
  ],
  [
    'GLU',
    {
      name: 'Glucose',
      codes: [
        {
          loinc: '14743-9',
          display: 'Glucose [Moles/volume] in Capillary blood by Glucometer',
          units: ['mmol/L', 'mmol/l'],
          source: LIST,
        },
        {
          loinc: '41653-7',
          display: 'Glucose [Mass/volume] in Capillary blood by Glucometer',
          units: ['mg/dL', 'mg/dl'],
          source: LIST,
        },
      ],
    },
  ],
  [
    'KET',
    {
      name: 'Beta-hydroxybutyrate (ketone)',
      // 53060-9, which public maps give for ketone, has a wrong check digit: it is no LOINC code.
      codes: [
        {
          loinc: '104816-4',
          display: 'Beta hydroxybutyrate [Moles/volume] in Blood',
          units: ['mmol/L', 'mmol/l'],
          source: LIST,
        },
      ],
    },
  ],
  [
    'HBA1C',
    {
      name: 'Haemoglobin A1c',
      codes: [
        { loinc: '4548-4', display: 'Hemoglobin A1c/Hemoglobin.total in Blood', units: ['%'], source: LIST },
        {
          loinc: '59261-8',
          display: 'Hemoglobin A1c/Hemoglobin.total in Blood by IFCC protocol',
          units: ['mmol/mol'],
          source: 'from memory',
        },
      ],
    },
  ],
  [
    'HGB',
    {
      name: 'Haemoglobin',
      codes: [
        {
          loinc: '30352-9',
          display: 'Hemoglobin [Mass/volume] in Capillary blood',
          units: ['g/dL', 'g/L', 'g/dl', 'g/l'],
          source: LIST,
        },
      ],
    },
  ],
  [
    'LAC',
    {
      name: 'Lactate',
      codes: [
        {
          loinc: '19239-3',
          display: 'Lactate [Moles/volume] in Capillary blood',
          units: ['mmol/L', 'mmol/l'],
          source: LIST,
        },
      ],
    },
  ],
  [
    'CRP',
    {
      name: 'C reactive protein',
      codes: [
        {
          loinc: '48421-2',
          display: 'C reactive protein [Mass/volume] in Capillary blood',
          units: ['mg/L', 'mg/l', 'mg/dL', 'mg/dl'],
          source: 'LOINC list (name read in German)',
        },
      ],
    },
  ],
  // Its codes are for serum or plasma; none for capillary blood is confirmed.
  ['CHOL', { name: 'Total cholesterol', codes: [] }],
]);

/** The UCUM units of the catalogue: what a meter tells in one of them is a unit of UCUM, whatever was measured. */
const UNITS: ReadonlySet<string> = new Set(
  [...ANALYTES.values()].flatMap(({ codes }) => codes.flatMap((c) => c.units)),
);

/** What is known of one value: its name for people, and its code and UCUM unit where they are certain. */
export interface CodedValue {
  readonly name: string;
  readonly code?: AnalyteCode;
  /** UCUM unit; absent where the unit is none of those listed. */
  readonly ucum?: string;
}

/** The codes for a value. An analyte that is not listed keeps the name that the meter gave it. */
export function codesOf(value: Pick<Value, 'analyte' | 'unit'>): CodedValue {
  const analyte = ANALYTES.get(value.analyte);
  const unit = UNITS.has(value.unit) ? { ucum: value.unit } : {};
  if (!analyte) return { name: value.analyte, ...unit };
  for (const code of analyte.codes) {
    if (value.unit === '' && code.hasOneUnit) return { name: analyte.name, code, ucum: code.units[0] };
    if (code.units.includes(value.unit)) return { name: analyte.name, code, ucum: value.unit };
  }
  return { name: analyte.name, ...unit };
}

/** Which of a test's values its `standing`, and the person's target where there is one, are for: the INR, else the first. */
export function targetValueIndex(values: readonly Value[]): number {
  return Math.max(
    0,
    values.findIndex((value) => TARGETED.includes(value.analyte)),
  );
}

/** A value's text taken apart: its sign of being off the scale, and its digits exactly as shown. */
export interface ShownNumber {
  readonly beyond?: '<' | '>';
  /** A plain decimal: no leading zeros, no plus sign, trailing zeros kept. */
  readonly digits: string;
}

const NUMBER = /^([<>]?)\s*(?:\+|(-))?0*(\d+(?:\.\d+)?)$/;

/** Reads a shown value as a decimal; undefined where it is not one, so that the text must travel as text. */
export function shownNumber(text: string): ShownNumber | undefined {
  const found = NUMBER.exec(text.trim());
  if (!found) return undefined;
  const [, beyond, minus = '', digits = ''] = found;
  return { ...(beyond === '<' || beyond === '>' ? { beyond } : {}), digits: `${minus}${digits}` };
}
