/** The evidence beside a question, in short sentences. Pure. */
import type { WaitingItem } from '../../api/waiting.ts';
import type { Format } from '../format.ts';
import { incidentWords, whenWords } from '../meters/incident-words.ts';
import type { Words } from '../words.ts';

const MINUTE_MS = 60_000;

/** The sentences, those that matter for the question first. */
export function evidenceOf(item: WaitingItem, words: Words, format: Format): string[] {
  const { waiting, people } = words;
  const { evidence: w } = waiting;
  const { evidence, holds, time } = item;
  const [gravest, ...rest] = holds;
  const asksPerson = holds.some((h) => h.code.startsWith('person-'));
  const asksTime = holds.some((h) => h.code.startsWith('time-') || h.code === 'person-doubtful');
  const asksLot = holds.some((h) => h.code.startsWith('lot-'));
  const sentences = [
    ...(asksPerson ? personEvidence(item, words, format) : []),
    ...(evidence.lastValues.length > 0
      ? [
          w.lastValues(
            evidence.lastValues.map((v) => `${format.value(v.value, v.beyond)} (${format.shortDay(v.at)})`).join(', '),
          ),
        ]
      : []),
    ...(evidence.target
      ? [w.target(people.rangeWords(format.number(evidence.target.low), format.number(evidence.target.high)))]
      : []),
    ...(time?.earliest !== undefined && time.latest !== undefined && time.latest - time.earliest > 2 * MINUTE_MS
      ? [w.bounds(format.moment(time.earliest), format.moment(time.latest))]
      : []),
    ...(asksTime && item.meterTime !== undefined ? [w.meterTime(item.meterTime.replace('T', ' '))] : []),
    ...(asksTime
      ? evidence.incidents.map((i) => w.incident(whenWords(i, words, format), incidentWords(i, words, format)))
      : []),
    ...(asksLot && item.lot !== undefined
      ? [item.lotExpiry === undefined ? w.lotOnly(item.lot) : w.lot(item.lot, item.lotExpiry)]
      : []),
    ...(item.operator === undefined ? [] : [w.operator(item.operator)]),
    ...(gravest && rest.length > 0 ? [waiting.also(rest.map((h) => people.why[h.code]).join('; '))] : []),
  ];
  return sentences;
}

function personEvidence({ keyedPatient, evidence, time }: WaitingItem, { waiting }: Words, format: Format): string[] {
  const { evidence: w } = waiting;
  const { appointments, holders } = evidence;
  const isNear = ({ from, to }: (typeof holders)[number]): boolean =>
    time === undefined ||
    ((to ?? Number.POSITIVE_INFINITY) >= (time.earliest ?? time.at) - 60 * 86_400_000 &&
      from <= (time.latest ?? time.at) + 60 * 86_400_000);
  return [
    keyedPatient === undefined ? w.notKeyed : w.keyed(keyedPatient),
    appointments.length > 0
      ? w.appointments(appointments.map((a) => w.appointment(format.person(a), format.time(a.at))).join(', '))
      : w.noAppointments,
    ...holders
      .filter(isNear)
      .map((h) =>
        h.to === undefined
          ? w.holder(format.person(h), format.day(h.from))
          : w.holderPast(format.person(h), format.day(h.from), format.day(h.to)),
      ),
  ];
}
