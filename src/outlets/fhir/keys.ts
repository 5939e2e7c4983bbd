/**
 * How a receiver knows our resources again: every one has a key of type, system and value that never changes, made
 * from ids of the gateway alone. From the key come the identifier, the search that a conditional request asks, and a
 * UUID for references inside one bundle or file.
 */
import { createHash } from 'node:crypto';
import type { MeterIdentity } from '../../core/download.ts';
import type { OutgoingReading } from '../../core/outgoing.ts';
import type { Delivery } from '../outlet.ts';
import { fhirText } from './fhir-json.ts';
import type { FhirResource, Identifier } from './resources.ts';

/** What one resource is known by. Provenance has no identifier in R4: it is known by a tag. */
export interface ResourceKey extends Identifier {
  readonly type: FhirResource['resourceType'];
  readonly by: 'identifier' | '_tag';
}

/** Name spaces of the identifiers of one site. */
export interface Systems {
  readonly gateway: string;
  readonly patient: string;
  readonly meter: string;
  readonly strips: string;
  readonly reading: string;
  readonly clock: string;
  readonly download: string;
  readonly operator: string;
  readonly provenance: string;
  /** Local codes for analytes. */
  readonly analyte: string;
  /** Local code for an error test. */
  readonly kind: string;
}

/**
 * The name spaces of a site. `base` is the clinic's own web address for identifiers, where it has one; else a URN is
 * made of the site's name. `patient` is where the clinic's patient numbers are known from, else one of ours.
 */
export function systemsOf(site: string, base: string | undefined, patient: string | undefined): Systems {
  const start = base ?? `urn:tallydock:${encodeURIComponent(site)}`;
  const joint = start.startsWith('urn:') ? ':' : '/';
  const at = (name: string): string => `${start.replace(/[:/]+$/, '')}${joint}${name}`;
  return {
    gateway: at('gateway'),
    patient: patient ?? at('patient'),
    meter: at('meter'),
    strips: at('strips'),
    reading: at('reading'),
    clock: at('meter-clock'),
    download: at('download'),
    operator: at('operator'),
    provenance: at('provenance'),
    analyte: at('analyte'),
    kind: at('kind'),
  };
}

const part = (text: string): string => encodeURIComponent(fhirText(text) ?? '');
const known = (type: ResourceKey['type'], system: string, value: string): ResourceKey => ({
  type,
  by: type === 'Provenance' ? '_tag' : 'identifier',
  system,
  value,
});

/** The gateway itself. */
export const gatewayKey = (systems: Systems, site: string): ResourceKey =>
  known('Device', systems.gateway, fhirText(site) ?? 'gateway');
/** A person, by the clinic's own id. */
export const patientKey = (systems: Systems, id: string): ResourceKey =>
  known('Patient', systems.patient, fhirText(id) ?? 'unknown');
/** A meter: serial numbers are unique only within a model. */
export const meterKey = (systems: Systems, meter: MeterIdentity): ResourceKey =>
  known('Device', systems.meter, `${part(meter.model)}/${part(meter.id)}`);
/** A strip lot as keyed into a model of meters: the same lot with another expiry is another device, as one is wrong. */
export const stripsKey = (systems: Systems, meter: MeterIdentity, lot: string, expiry: string): ResourceKey =>
  known('Device', systems.strips, `${part(meter.model)}/${part(lot)}/${part(expiry)}`);
/** One value of a reading; `ordinal` from 1. */
export const valueKey = (systems: Systems, reading: OutgoingReading, ordinal: number): ResourceKey =>
  known('Observation', systems.reading, `${reading.id}/${ordinal}`);
/** The meter's clock beside the gateway's in one download. */
export const clockKey = (systems: Systems, reading: OutgoingReading): ResourceKey =>
  known('Observation', systems.clock, reading.firstDownload);
/** How one version of a reading came about, or was withdrawn. */
export const provenanceKey = (systems: Systems, delivery: Delivery): ResourceKey =>
  known('Provenance', systems.provenance, deliveryName(delivery));

/** Reading id, version and whether it is withdrawn, in one word: names the content of one delivery for ever. */
export const deliveryName = ({ reading, isWithdrawn }: Delivery): string =>
  `${reading.id}/v${reading.version}${isWithdrawn ? '/withdrawn' : ''}`;

// These four have a meaning of their own in a search for a token (FHIR R4, "Search", escaping).
const inToken = (text: string): string => text.replace(/[\\,$|]/g, '\\$&');

/** The search that finds what a key names, ready for a URL. */
export const searchFor = (key: ResourceKey): string =>
  `${key.by}=${encodeURIComponent(`${inToken(key.system)}|${inToken(key.value)}`)}`;

/** A UUID made of the key alone (RFC 9562, version 8, from SHA-256): the same key gives the same one everywhere. */
export function uuidOf(key: ResourceKey): string {
  const hash = createHash('sha256').update(`${key.type}\n${key.system}\n${key.value}`).digest('hex');
  const variant = '89ab'[Number.parseInt(hash.charAt(16), 16) & 3];
  return `${hash.slice(0, 8)}-${hash.slice(8, 12)}-8${hash.slice(13, 16)}-${variant}${hash.slice(17, 20)}-${hash.slice(20, 32)}`;
}
