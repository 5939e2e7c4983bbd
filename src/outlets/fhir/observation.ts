/**
 * One reading as FHIR Observations, one for each value. Pure: a delivery in, resources out.
 *
 * | of the reading | in the Observation |
 * | --- | --- |
 * | id and place of the value | `identifier` |
 * | withdrawn / provisional / settled | `status`, see `statusOf` |
 * | analyte | `code`: LOINC where unit and analyte have one, the short name as local code, a plain name |
 * | value, unit | `valueQuantity` with the digits as shown, `comparator` for < and >, UCUM; `valueString` where it is no number |
 * | standing, off the scale | `interpretation` (L, H, LL, HH, N, <, >) |
 * | target | `referenceRange`, type therapeutic |
 * | person | `subject`; the meter for control tests and for error tests of nobody |
 * | placement, meter's stamp | `effectiveDateTime` or `effectivePeriod`, see `effectiveOf` |
 * | meter | `device`; strip lot in the extension observation-reagent; the gateway in observation-gatewayDevice |
 * | meter's clock | `derivedFrom` the coincident time stamp (HL7 Personal Health Device guide) |
 * | operator | `performer`, by identifier |
 * | how the time is known, flags, control material | `note` |
 */
import type { Instant } from '../../core/instant.ts';
import { formatInstant } from '../../core/instant.ts';
import type { Value } from '../../core/reading.ts';
import { codesOf, shownNumber } from '../analytes.ts';
import type { Delivery } from '../outlet.ts';
import { interpretationLetters, remarksOf, targetOf } from '../remarks.ts';
import { effectiveOf } from './effective.ts';
import { Decimal, fhirText } from './fhir-json.ts';
import {
  clockKey,
  gatewayKey,
  meterKey,
  patientKey,
  type ResourceKey,
  type Systems,
  stripsKey,
  valueKey,
} from './keys.ts';
import type { CodeableConcept, Coding, Observation, ObservationStatus, Quantity, Reference } from './resources.ts';

/** Whose gateway tells, how it names things, and how one resource refers to another. */
export interface Speaker {
  readonly site: string;
  readonly systems: Systems;
  /** The literal reference to what a key names, within one bundle or one file. */
  readonly refer: (key: ResourceKey) => string;
}

const LOINC = 'http://loinc.org';
const UCUM = 'http://unitsofmeasure.org';
const V3_INTERPRETATION = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';
const GATEWAY_DEVICE = 'http://hl7.org/fhir/StructureDefinition/observation-gatewayDevice';
const REAGENT = 'http://hl7.org/fhir/StructureDefinition/observation-reagent';

/** A reference to a resource that is sent along. */
export const toKey = (speaker: Speaker, key: ResourceKey): Reference => ({ reference: speaker.refer(key) });

/**
 * Withdrawn: entered-in-error. Provisional: preliminary. Settled: final where this outlet hears of the reading for the
 * first time or knew it as preliminary; corrected where it was believed to be another person's; else amended.
 */
function statusOf({ reading, before, isWithdrawn }: Delivery): ObservationStatus {
  if (isWithdrawn) return 'entered-in-error';
  if (reading.status === 'provisional') return 'preliminary';
  if (!before) return 'final';
  if (before.patientId !== reading.patient?.id) return 'corrected';
  return before.status === 'provisional' ? 'final' : 'amended';
}

/** The person an Observation is about. What is withdrawn is withdrawn from whom it was told of. */
export const personOf = ({ reading, before, isWithdrawn }: Delivery): string | undefined =>
  isWithdrawn && before ? before.patientId : reading.patient?.id;

/** The Observations of a delivery, in the order of the values, each with its key. An error test has one, without a value. */
export function observationsOf(
  delivery: Delivery,
  speaker: Speaker,
  issued: Instant,
): readonly { readonly key: ResourceKey; readonly resource: Observation }[] {
  const { reading } = delivery;
  const common = commonPart(delivery, speaker, issued);
  const numbered = <T>(items: readonly T[], make: (item: T, index: number) => OwnPart) =>
    items.map((item, index) => {
      const key = valueKey(speaker.systems, reading, index + 1);
      const identifier = [{ system: key.system, value: key.value }];
      return { key, resource: { ...common.head, identifier, ...common.middle, ...make(item, index), ...common.tail } };
    });
  if (reading.values.length === 0) return numbered([reading.errorCode], () => withoutValue(speaker.systems));
  return numbered(reading.values, (value, index) => ({
    code: codeOf(value, speaker.systems),
    ...shownOf(value),
    ...interpretationOf(interpretationLetters(reading, index)),
    ...rangeOf(targetOf(reading, index), value),
  }));
}

type OwnPart = Pick<Observation, 'code'> & Partial<Observation>;

/** What all Observations of a delivery share, in three pieces so that a line reads from what it is to where it comes from. */
function commonPart(delivery: Delivery, speaker: Speaker, issued: Instant) {
  const { reading } = delivery;
  const { systems, site } = speaker;
  const person = personOf(delivery);
  const meter = toKey(speaker, meterKey(systems, reading.meter));
  const subject =
    person === undefined
      ? reading.kind === 'patient'
        ? undefined
        : meter
      : toKey(speaker, patientKey(systems, person));
  const operator = fhirText(reading.operator);
  const remarks = remarksOf(reading).flatMap((remark) => fhirText(remark) ?? []);
  const strips =
    reading.lot === undefined
      ? []
      : [
          {
            url: REAGENT,
            valueReference: toKey(speaker, stripsKey(systems, reading.meter, reading.lot, reading.lotExpiry ?? '')),
          },
        ];
  const head = {
    resourceType: 'Observation' as const,
    extension: [{ url: GATEWAY_DEVICE, valueReference: toKey(speaker, gatewayKey(systems, site)) }, ...strips],
  };
  const middle = {
    status: statusOf(delivery),
    category: [
      coded('http://terminology.hl7.org/CodeSystem/observation-category', 'laboratory', 'Laboratory'),
      ...(reading.kind === 'control' ? [{ text: 'Control test' }] : []),
    ],
  };
  const tail = {
    ...(subject ? { subject } : {}),
    ...effectiveOf(reading),
    issued: formatInstant(issued),
    ...(operator
      ? { performer: [{ type: 'Practitioner', identifier: { system: systems.operator, value: operator } }] }
      : {}),
    ...(remarks.length > 0 ? { note: remarks.map((text) => ({ text })) } : {}),
    device: meter,
    ...(isShiftedByClock(delivery) ? { derivedFrom: [toKey(speaker, clockKey(systems, reading))] } : {}),
  };
  return { head, middle, tail };
}

/**
 * True where the time of a reading comes from the meter's stamp and from its clock beside ours. After a change of the
 * clock in between (`bounded`) the clock seen at the download says nothing of the stamp.
 */
export const isShiftedByClock = ({ reading }: Pick<Delivery, 'reading'>): boolean =>
  reading.clock !== undefined &&
  reading.meterTime !== '' &&
  (reading.placement?.basis === 'interpolated' || reading.placement?.basis === 'anchored');

/** One code of one system. */
export const coded = (system: string, code: string, display: string): CodeableConcept => ({
  coding: [{ system, code, display }],
});

function codeOf(value: Value, systems: Systems): CodeableConcept {
  const { name, code } = codesOf(value);
  const own = fhirText(value.analyte);
  const coding: Coding[] = [
    ...(code ? [{ system: LOINC, code: code.loinc, ...(code.display ? { display: code.display } : {}) }] : []),
    ...(own ? [{ system: systems.analyte, code: own }] : []),
  ];
  return { ...(coding.length > 0 ? { coding } : {}), text: fhirText(name) ?? 'Unnamed analyte' };
}

function shownOf(value: Value): Pick<Observation, 'valueQuantity' | 'valueString' | 'dataAbsentReason'> {
  const number = shownNumber(value.value);
  if (number)
    return {
      valueQuantity: { ...quantityOf(number.digits, value), ...(number.beyond ? { comparator: number.beyond } : {}) },
    };
  const text = fhirText(value.value);
  return text ? { valueString: text } : { dataAbsentReason: absent('unknown', 'Unknown') };
}

function quantityOf(digits: string, value: Value): Quantity {
  const { ucum } = codesOf(value);
  if (ucum === undefined) return { value: new Decimal(digits), unit: fhirText(value.unit) };
  return { value: new Decimal(digits), unit: ucum.replace(/[{}]/g, ''), system: UCUM, code: ucum };
}

const absent = (code: string, display: string): CodeableConcept =>
  coded('http://terminology.hl7.org/CodeSystem/data-absent-reason', code, display);

const withoutValue = (systems: Systems): OwnPart => ({
  code: { ...coded(systems.kind, 'error', 'Error test'), text: 'Error test' },
  dataAbsentReason: absent('error', 'Error'),
});

const INTERPRETATIONS: Readonly<Record<string, string>> = {
  L: 'Low',
  H: 'High',
  LL: 'Critical low',
  HH: 'Critical high',
  N: 'Normal',
  '<': 'Off scale low',
  '>': 'Off scale high',
};

function interpretationOf(letters: readonly string[]): Pick<Observation, 'interpretation'> {
  if (letters.length === 0) return {};
  return { interpretation: letters.map((code) => coded(V3_INTERPRETATION, code, INTERPRETATIONS[code] ?? code)) };
}

function rangeOf(target: { low: string; high: string } | undefined, value: Value): Pick<Observation, 'referenceRange'> {
  const low = target && shownNumber(target.low);
  const high = target && shownNumber(target.high);
  if (!low || !high) return {};
  const type = coded(
    'http://terminology.hl7.org/CodeSystem/referencerange-meaning',
    'therapeutic',
    'Therapeutic Desired Level',
  );
  return { referenceRange: [{ low: quantityOf(low.digits, value), high: quantityOf(high.digits, value), type }] };
}
