/**
 * A delivery as HL7 v2.5.1 messages. Pure: delivery, names and time in, messages out. protocols/outlets/hl7.md has the
 * table of fields.
 *
 * One delivery is one message, except where the person changed: then the result is first marked as wrong under the
 * person of before (OBX-11 = W), and then told as a new one under the person of now.
 */
import { createHash } from 'node:crypto';
import type { Instant } from '../../core/instant.ts';
import type { OutgoingPatient } from '../../core/outgoing.ts';
import { zoneOf } from '../../core/zone.ts';
import type { Delivery } from '../outlet.ts';
import { components, ENCODING, hl7Text, hl7Time, segment } from './hl7-text.ts';
import { observationSegments, type ResultStatus } from './observation.ts';
import type { Hl7MessageSettings } from './settings.ts';

/** A message and the name by which the receiver knows it again. */
export interface Hl7Message {
  /** MSH-10: the same for the same content, for ever. */
  readonly controlId: string;
  /** Segments, each ended by CR. */
  readonly text: string;
}

/** Whose gateway tells, and how. */
export interface Sender {
  readonly site: string;
  /** IANA zone of MSH-7. */
  readonly zone: string;
  readonly settings: Hl7MessageSettings;
}

const PURPOSE = { production: 'P', training: 'T', debugging: 'D' } as const;
/** MSH-10 holds no more characters in 2.5.1 (from memory: ST, length 20). */
const LONGEST_CONTROL_ID = 20;

/** The messages of a delivery, in the order in which they must arrive. */
export function messagesOf(delivery: Delivery, sender: Sender, now: Instant): readonly Hl7Message[] {
  const { reading, before, isWithdrawn } = delivery;
  const name = `${reading.id}v${reading.version}`;
  const telling = (suffix: string, person: OutgoingPatient | undefined, status: ResultStatus): Hl7Message =>
    message(controlIdOf(`${name}${suffix}`), delivery, person, status, sender, now);
  const personBefore = before?.patientId === undefined ? undefined : { id: before.patientId };
  const wasOthers = before !== undefined && before.patientId !== reading.patient?.id;
  if (isWithdrawn) return [telling('w', wasOthers ? personBefore : reading.patient, 'W')];
  const isPreliminary = reading.status === 'provisional';
  if (wasOthers) return [telling('w', personBefore, 'W'), telling('', reading.patient, isPreliminary ? 'P' : 'F')];
  const isCorrection = before !== undefined && before.status !== 'provisional';
  return [telling('', reading.patient, isPreliminary ? 'P' : isCorrection ? 'C' : 'F')];
}

/** A name that fits into MSH-10: itself where it is short, else made of its hash. */
function controlIdOf(name: string): string {
  if (name.length <= LONGEST_CONTROL_ID) return name;
  return createHash('sha256').update(name).digest('hex').slice(0, LONGEST_CONTROL_ID).toUpperCase();
}

function message(
  controlId: string,
  delivery: Delivery,
  person: OutgoingPatient | undefined,
  status: ResultStatus,
  sender: Sender,
  now: Instant,
): Hl7Message {
  const { reading } = delivery;
  const { settings, site } = sender;
  // ORU_R30 needs a person and has no SPM: control tests, and readings of nobody, go as R01.
  const isR30 = settings.message === 'R30' && reading.kind !== 'control' && person !== undefined;
  const header = [
    'MSH',
    ENCODING,
    'tallydock',
    hl7Text(site),
    hl7Text(settings['receiving-application']),
    hl7Text(settings['receiving-facility']),
    hl7Time(now, zoneOf(sender.zone)),
    '',
    isR30 ? 'ORU^R30^ORU_R30' : 'ORU^R01^ORU_R01',
    hl7Text(controlId),
    PURPOSE[settings.purpose],
    '2.5.1',
    // 13 to 17: no sequence, no continuation, and acknowledgement in the original mode.
    ...['', '', '', '', ''],
    'UNICODE UTF-8',
  ].join('|');
  const segments = [
    header,
    ...(person ? [patientSegment(person, settings['patient-authority'] ?? site)] : []),
    ...(isR30 ? [segment('ORC', 'NW')] : []),
    ...observationSegments(reading, site, status),
  ];
  return { controlId, text: `${segments.join('\r')}\r` };
}

/**
 * PID-5 is required. Where no name is known it says so (name type U, unspecified, table 0200), and never `""`, which
 * would ask the receiver to delete the name that it has. Our names are one text: it stands as family name.
 */
function patientSegment(person: OutgoingPatient, authority: string): string {
  const id = components(person.id, '', '', authority, 'PI');
  const name = person.name?.trim() ? components(person.name.trim()) : '^^^^^^U';
  const born = person.birthYear === undefined ? '' : String(person.birthYear).padStart(4, '0');
  return segment('PID', '1', '', id, '', name, '', born);
}
