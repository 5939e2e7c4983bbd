/**
 * One more download: placing from a checkpoint gives what placing the whole history gives, for every test and incident
 * behind the checkpoint, as long as the checkpoint says that nothing before it has moved.
 */
import { describe, expect, it } from 'vitest';
import { type Checkpoint, place } from '../../src/clock/place.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, historyOf, showing } from './hand-made.ts';
import { makeWorld, type WorldKind } from './worlds.ts';

const seed = seedOr(1);
const METERS = runsOr(6);
const KINDS: readonly WorldKind[] = ['drift', 'loss', 'human', 'mixed'];

/**
 * Adds the downloads of a world one by one; at each, goes on from checkpoints of the history before it. Returns how many
 * of them could serve.
 */
function addOneByOne(kind: WorldKind, worldSeed: number): number {
  let served = 0;
  const { history } = makeWorld(kind, worldSeed);
  let known: readonly Checkpoint[] = [];
  history.items.forEach((item, i) => {
    if (item.kind !== 'readout') return;
    const items = history.items.slice(0, i + 1);
    const whole = place({ ...history, items });
    // The last but one and older: whether a drift is steady shows only in the gap after.
    for (const checkpoint of known.slice(-5, -1)) {
      const from = items.findIndex((x) => x.kind === 'readout' && x.id === checkpoint.readout);
      const stored = JSON.parse(JSON.stringify(checkpoint)) as Checkpoint;
      const part = place({ ...history, items: items.slice(from) }, stored);
      if (part.atStart?.lo !== checkpoint.tight.lo || part.atStart.hi !== checkpoint.tight.hi) continue;
      served++;
      const where = `world ${kind}, seed ${worldSeed}, ${item.id} from ${checkpoint.readout}`;
      expect(part.tests, where).toEqual(whole.tests.slice(whole.tests.length - part.tests.length));
      expect(part.incidents, where).toEqual(whole.incidents.slice(checkpoint.incidents));
      expect(part.drift, where).toEqual(whole.drift);
      expect(part.checkpoints, where).toEqual(
        whole.checkpoints.slice(whole.checkpoints.length - part.checkpoints.length),
      );
    }
    known = whole.checkpoints;
  });
  return served;
}

describe(`placing from a checkpoint (SEED=${seed})`, () => {
  it.each(KINDS)('equals placing the whole history, in the world "%s"', (kind) => {
    let served = 0;
    for (let s = seed; s < seed + METERS; s++) served += addOneByOne(kind, s);
    // A life has about nine visits; a new download seldom tightens what lies far back.
    expect(served).toBeGreaterThan(10 * METERS);
  });

  it('tells where a later download reaches back behind it', () => {
    // Answers that took 30 s leave the offset open by 31 s; a sharp one an hour after the last tells all of them more,
    // since an hour of drift is only 0.36 s.
    const hour = (h: number): string => `2026-03-02T${10 + h}:00:00`;
    const dull = (h: number) => download(`D${h}`, [showing(hour(h), `2026-03-02T${10 + h}:00:15`, 30_000)]);
    const known = place(historyOf([dull(0), dull(1), dull(2), dull(3), dull(4)]));
    const sharp = download('D5', [showing(hour(5), '2026-03-02T15:00:00')]);
    const checkpoint = known.checkpoints[1];
    expect(checkpoint?.readout).toBe('D2');
    const part = place(historyOf([dull(2), dull(3), dull(4), sharp]), checkpoint);
    expect(checkpoint?.tight.hi).toBeGreaterThan(15_000);
    expect(part.atStart?.hi).toBeLessThan(3000);
  });

  it('is possible at plain data that JSON gives back unchanged', () => {
    const { history } = makeWorld('human', seed);
    const { checkpoints } = place(history);
    expect(checkpoints.length).toBeGreaterThan(3);
    expect(JSON.parse(JSON.stringify(checkpoints))).toEqual(checkpoints);
  });
});
