/**
 * The resources that Observations refer to: person, meter, strip lot, gateway, and the meter's clock beside the
 * gateway's. Each is told once and left alone afterwards: what the receiver knows of them is not overwritten.
 */
import { formatWall, wall } from '../../core/meter-time.ts';
import type { OutgoingPatient, OutgoingReading } from '../../core/outgoing.ts';
import { zoneOf } from '../../core/zone.ts';
import { localWithOffset } from '../when.ts';
import { fhirTime } from './effective.ts';
import { fhirText } from './fhir-json.ts';
import { clockKey, gatewayKey, meterKey, patientKey, type ResourceKey, type Systems, stripsKey } from './keys.ts';
import { type Speaker, toKey } from './observation.ts';
import type { Device, Identifier, Observation, Patient } from './resources.ts';

const identifierOf = (key: ResourceKey): readonly Identifier[] => [{ system: key.system, value: key.value }];

/** The person: by the clinic's own id; name and year of birth only where they were given. */
export function patientOf(systems: Systems, person: OutgoingPatient): Patient {
  const name = fhirText(person.name);
  return {
    resourceType: 'Patient',
    identifier: identifierOf(patientKey(systems, person.id)),
    ...(name ? { name: [{ text: name }] } : {}),
    ...(person.birthYear === undefined ? {} : { birthDate: String(person.birthYear).padStart(4, '0') }),
  };
}

/** The meter: serial number, model, firmware. */
export function meterOf(systems: Systems, reading: OutgoingReading): Device {
  const { meter } = reading;
  const firmware = fhirText(meter.firmware);
  return {
    resourceType: 'Device',
    identifier: identifierOf(meterKey(systems, meter)),
    serialNumber: fhirText(meter.id),
    modelNumber: fhirText(meter.model),
    type: { text: 'Point-of-care meter' },
    ...(firmware ? { version: [{ value: firmware }] } : {}),
  };
}

/** The strip lot as a device of its own, since an Observation has no place for it. */
export function stripsOf(systems: Systems, reading: OutgoingReading & { readonly lot: string }): Device {
  return {
    resourceType: 'Device',
    identifier: identifierOf(stripsKey(systems, reading.meter, reading.lot, reading.lotExpiry ?? '')),
    // A FHIR dateTime may be a month: `2026-08` stays what it is.
    ...(reading.lotExpiry ? { expirationDate: reading.lotExpiry } : {}),
    lotNumber: fhirText(reading.lot),
    type: { text: 'Test strips' },
  };
}

/** This gateway. */
export function gatewayOf(systems: Systems, site: string): Device {
  return {
    resourceType: 'Device',
    identifier: identifierOf(gatewayKey(systems, site)),
    deviceName: [{ name: fhirText(site) ?? 'gateway', type: 'user-friendly-name' }],
    type: { text: 'Gateway for point-of-care meters' },
  };
}

/**
 * The meter's clock beside the gateway's at one moment: the coincident time stamp of HL7's Personal Health Device
 * guide (PhdCoincidentTimeStampObservation: code MDC_ATTR_TIME_ABS, subject the meter, device the gateway,
 * effectiveDateTime the gateway's time, valueDateTime the meter's). The meter knows no zone: its time is written with
 * the offset of the gateway, so that the difference of the two is how far the clock was off.
 *
 * The guide has it created at every connection, never matched. Ours has an identifier, because a bundle that was not
 * answered is sent again and must not make a second one.
 */
export function clockStampOf(
  speaker: Speaker,
  reading: OutgoingReading & { readonly clock: NonNullable<OutgoingReading['clock']> },
): Observation {
  const { systems, site } = speaker;
  const { gatewayAt, meterOffS } = reading.clock;
  const zone = zoneOf(reading.zone);
  const { offset } = localWithOffset(gatewayAt, zone, 'round');
  const shown = wall(Math.round(zone.wallAt(gatewayAt) / 1000 + meterOffS) * 1000);
  const gateway = toKey(speaker, gatewayKey(systems, site));
  return {
    resourceType: 'Observation',
    extension: [{ url: 'http://hl7.org/fhir/StructureDefinition/observation-gatewayDevice', valueReference: gateway }],
    identifier: identifierOf(clockKey(systems, reading)),
    status: 'final',
    code: {
      coding: [{ system: 'urn:iso:std:iso:11073:10101', code: '67975', display: 'MDC_ATTR_TIME_ABS' }],
      text: 'Clock of the meter beside the clock of the gateway',
    },
    subject: toKey(speaker, meterKey(systems, reading.meter)),
    effectiveDateTime: fhirTime(gatewayAt, zone),
    valueDateTime: `${formatWall(shown)}${offset}`,
    device: gateway,
  };
}
