/**
 * The ordinary download, explained in one pass: the image begins with what is known, perhaps without the oldest ones
 * of a full memory, and goes on with new tests. Gives up (undefined) wherever another explanation could exist.
 */
import { type Sighting, sameTest } from './same.ts';
import type { Explanation, Question, Step } from './steps.ts';

const MINUTE = 60_000;

/** What two sightings of one test always share; undefined where a stamp is too coarse or a record is cut. */
function keyOf({ record }: Sighting): string | undefined {
  if (record.open === true || (record.meterTime?.resolutionMs ?? 0) > MINUTE) return undefined;
  const minute = record.meterTime ? Math.floor(record.meterTime.wall / MINUTE) : record.meterTimeText;
  return `${minute} ${record.kind} ${record.errorCode ?? ''} ${record.values.map((v) => v.value).join(' ')}`;
}

/** The only explanation without cost, where it can be seen at once. */
export function explainOrdinary({ known, sightings, overwritable, highestRun }: Question): Explanation | undefined {
  const keys = new Set<string>();
  const tests: Sighting[] = [];
  for (const item of known) {
    const [test] = item.kind === 'place' ? item.tests : [];
    if (!test || item.to - item.from > 1 || !addNew(keys, test)) return undefined;
    tests.push(test);
  }
  const first = sightings[0];
  const start = first ? tests.findIndex((test) => sameTest(test, first)) : -1;
  const skipped = Math.max(0, start);
  if (skipped > (overwritable ?? 0)) return undefined;
  const steps: Step[] = [];
  for (let k = 0; k < skipped; k++) steps.push({ kind: 'missing', known: k });
  for (const [t, told] of sightings.entries()) {
    if (!told) return undefined;
    const k = skipped + t;
    const test = tests[k];
    if (test) {
      // That nothing is known any more, or a known test is not told, has many explanations.
      if (!sameTest(test, told)) return undefined;
      steps.push({ kind: 'match', known: k, claimant: 0, told: t });
    } else {
      const run = told.record.runNumber;
      if (!addNew(keys, told) || (run !== undefined && run <= (highestRun ?? 0))) return undefined;
      steps.push({ kind: 'new', told: t, repeat: false });
    }
  }
  return skipped + sightings.length < known.length ? undefined : { steps, doubtful: false, cost: 0 };
}

/** False where the key cannot be trusted or is there already. */
function addNew(keys: Set<string>, sighting: Sighting): boolean {
  const key = keyOf(sighting);
  if (key === undefined || keys.has(key)) return false;
  keys.add(key);
  return true;
}
