/** Tells whether what outlets are told of a reading has changed: one digest of all of it that a record may rest on. Pure. */
import { createHash } from 'node:crypto';
import type { Judged } from '../store/judged.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Gathered } from './gather.ts';

/** The digest of a reading as judged, with the person's id and the target in force. */
export function digestOf(
  { record, meter, placement, flags }: ListedReading,
  judged: Omit<Judged, 'digest'>,
  { whose, target }: Pick<Gathered, 'whose' | 'target'>,
): string {
  const seconds = (at: number | undefined, round: (x: number) => number) =>
    at === undefined ? null : round(at / 1000);
  const told = [
    judged.status,
    judged.patientNo ?? null,
    whose?.kind === 'known' ? whose.person.id : null,
    judged.basis ?? null,
    judged.standing ?? null,
    judged.levelNo ?? null,
    target ? [target.low, target.high] : null,
    meter.model,
    meter.id,
    record.kind,
    record.values.map((v) => [v.analyte, v.value, v.unit]),
    record.errorCode ?? null,
    record.meterTimeText,
    record.lot ?? null,
    record.lotExpiry ?? null,
    record.operator ?? null,
    record.patientId ?? null,
    flags,
    // As exports round them: a change below a second is none.
    seconds(placement?.takenAt, Math.round),
    seconds(placement?.earliest, Math.floor),
    seconds(placement?.latest, Math.ceil),
    placement?.basis ?? null,
  ];
  return createHash('sha256').update(JSON.stringify(told)).digest('base64url').slice(0, 22);
}
