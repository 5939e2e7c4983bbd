/** The work of `tallydock holds`. */
import { HOLD_CODES } from '../clinic/holds/hold.ts';
import { Fault } from '../core/fault.ts';
import { formatSeconds } from '../core/instant.ts';
import { patientOf } from '../record/context.ts';
import type { StoredJudged } from '../store/judged.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import type { CommonOptions } from './common-options.ts';
import { print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { resultText } from './readings-work.ts';
import { printable } from './table.ts';
import { withStore } from './with-store.ts';

/** The options of one call. */
export type HoldsCall = CommonOptions & {
  readonly patient?: string;
  readonly meter?: string;
  readonly reason?: string;
};

/** Lists what waits. Throws PATIENT_UNKNOWN, METER_UNKNOWN, or CALL_WRONG for a word that is no reason. */
export function listHolds(options: HoldsCall): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    checkFilter(store, options);
    const patientNo = options.patient === undefined ? undefined : patientOf(store, options.patient).patientNo;
    const held = store.judged
      .list({ status: 'held' })
      .filter((j) => patientNo === undefined || j.patientNo === patientNo || j.proposedNo === patientNo)
      .filter((j) => options.reason === undefined || waits(j).some((h) => h.code === options.reason));
    const readings = new Map(store.readings.list(held.map((j) => j.reading)).map((r) => [r.id, r]));
    let count = 0;
    for (const judged of held) {
      const reading = readings.get(judged.reading);
      if (!reading || (options.meter !== undefined && reading.meter.id !== options.meter)) continue;
      count += 1;
      if (options.json) await printJson(holdJson(store, judged, reading));
      else await print(holdText(store, judged, reading, zone));
    }
    if (options.json) return;
    await print(
      count === 0
        ? 'Nothing waits.\n'
        : `\n${count} ${count === 1 ? 'reading waits' : 'readings wait'}. Not for dosing until somebody has looked.\n`,
    );
  });
}

/** "Nothing waits" must not be the answer to a word that was mistyped. */
function checkFilter(store: Store, { reason, meter }: HoldsCall): void {
  if (reason !== undefined && !HOLD_CODES.some((code) => code === reason))
    throw new Fault('CALL_WRONG', `--reason: "${reason}" is none`, `The words are ${HOLD_CODES.join(', ')}.`);
  if (meter !== undefined && store.meters.list(meter).length === 0)
    throw new Fault('METER_UNKNOWN', `A meter "${meter}" was never read here`, '"tallydock meters" lists them.');
}

const waits = (j: StoredJudged) => j.holds.filter((h) => !h.isReleased);

const personId = (store: Store, no: number | undefined): string | undefined =>
  no === undefined ? undefined : store.patients.byNumber(no)?.id;

function holdText(store: Store, judged: StoredJudged, reading: ListedReading, zone: string): string {
  const { placement, record, meter } = reading;
  const when = placement?.takenAt === undefined ? 'time unknown' : localMinute(placement.takenAt, zone);
  const known = personId(store, judged.patientNo);
  const proposed = personId(store, judged.proposedNo);
  const who = known ?? (proposed === undefined ? 'nobody known' : `${proposed}?`);
  const head = `${reading.id}  ${when}  ${resultText({ record })}  ${who}  meter ${meter.id}`;
  return `${printable(head)}\n${waits(judged)
    .map((h) => `    ${printable(h.sentence)} [${h.code}]\n`)
    .join('')}`;
}

function holdJson(store: Store, judged: StoredJudged, reading: ListedReading): Record<string, unknown> {
  const { placement, record, meter } = reading;
  return {
    reading_id: reading.id,
    meter_id: meter.id,
    patient_id: personId(store, judged.patientNo) ?? null,
    proposed_patient_id: personId(store, judged.proposedNo) ?? null,
    taken_at: placement?.takenAt === undefined ? null : formatSeconds(placement.takenAt, 'round'),
    kind: record.kind,
    values: record.values,
    standing: judged.standing ?? null,
    holds: waits(judged).map(({ code, sentence }) => ({ code, sentence })),
  };
}
