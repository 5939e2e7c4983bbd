/**
 * What is told of a reading in letters and in plain words, alike by FHIR and HL7: the letters for where a value stands
 * (the same in HL7 table 0078 and in FHIR's ObservationInterpretation), and the remarks that have no field of their own.
 */
import type { OutgoingReading, Standing } from '../core/outgoing.ts';
import { shownNumber, targetValueIndex } from './analytes.ts';
import { whenOf } from './when.ts';

const LETTERS: Readonly<Record<Standing, string | undefined>> = {
  'critical-low': 'LL',
  below: 'L',
  in: 'N',
  above: 'H',
  'critical-high': 'HH',
  'no-target': undefined,
};

/** The letters of one value: how it stands, then `<` or `>` where it is off the meter's scale. Often none. */
export function interpretationLetters(reading: OutgoingReading, index: number): readonly string[] {
  const isUnderTarget = reading.kind === 'patient' && index === targetValueIndex(reading.values);
  const standing = isUnderTarget && reading.standing ? LETTERS[reading.standing] : undefined;
  const beyond = shownNumber(reading.values[index]?.value ?? '')?.beyond;
  return [...(standing ? [standing] : []), ...(beyond ? [beyond] : [])];
}

/** The target range of one value, where the target is for it. Control and error tests have none. */
export function targetOf(reading: OutgoingReading, index: number): OutgoingReading['target'] {
  return reading.kind === 'patient' && index === targetValueIndex(reading.values) ? reading.target : undefined;
}

/** What a reader must know besides the fields, one sentence each: how the time is known, flags, control material, error. */
export function remarksOf(reading: OutgoingReading): readonly string[] {
  const { placement, control, kind, errorCode, flags } = reading;
  const isPlain = whenOf(placement).kind === 'point' && placement?.basis !== 'displayed';
  const material = control ? `${control.kind} control, lot ${control.lot}, level ${control.level}` : undefined;
  return [
    ...(kind === 'control' ? [`Control test, no patient's result${material ? `: ${material}` : ''}.`] : []),
    ...(kind === 'error' ? [`The test gave no result: error ${errorCode ?? 'without a code'}.`] : []),
    ...(isPlain ? [] : [placement?.reason || 'It is not known when the test was made.']),
    ...(flags.length > 0 ? [`Flags: ${flags.join(' ')}`] : []),
  ];
}
