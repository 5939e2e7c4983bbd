/**
 * When a test was made, as an Observation says it. A point becomes effectiveDateTime, a span effectivePeriod, nothing
 * a data-absent-reason; the meter's own stamp stays beside it as original text, so that nobody takes our time for the
 * meter's.
 */
import type { Instant } from '../../core/instant.ts';
import type { OutgoingReading } from '../../core/outgoing.ts';
import { type Zone, zoneOf } from '../../core/zone.ts';
import { localWithOffset, type Rounding, whenOf } from '../when.ts';
import { fhirText } from './fhir-json.ts';
import type { Effective, Extension } from './resources.ts';

const ORIGINAL_TEXT = 'http://hl7.org/fhir/StructureDefinition/originalText';
const ABSENT = 'http://hl7.org/fhir/StructureDefinition/data-absent-reason';

/** A FHIR dateTime in whole seconds, local time with its offset. */
export function fhirTime(at: Instant, zone: Zone, rounding: Rounding = 'round'): string {
  const { local, offset } = localWithOffset(at, zone, rounding);
  return `${local}${offset}`;
}

/** The effective[x] of every Observation of a reading. A span is rounded outwards. */
export function effectiveOf(reading: OutgoingReading): Effective {
  const zone = zoneOf(reading.zone);
  const when = whenOf(reading.placement);
  const stamp = fhirText(reading.meterTime);
  const original: Extension[] = stamp ? [{ url: ORIGINAL_TEXT, valueString: stamp }] : [];
  switch (when.kind) {
    case 'point':
      return {
        effectiveDateTime: fhirTime(when.at, zone),
        ...(stamp ? { _effectiveDateTime: { extension: original } } : {}),
      };
    case 'span':
      return {
        effectivePeriod: {
          ...(stamp ? { extension: original } : {}),
          ...(when.earliest === undefined ? {} : { start: fhirTime(when.earliest, zone, 'floor') }),
          ...(when.latest === undefined ? {} : { end: fhirTime(when.latest, zone, 'ceil') }),
        },
      };
    case 'unknown':
      return { _effectiveDateTime: { extension: [{ url: ABSENT, valueCode: 'unknown' }, ...original] } };
  }
}
