/** Taking in what the docks recorded, with a store that fails for a while. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { type IntakeQueue, makeIntakeQueue } from '../../src/dock/intake-queue.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { openRecorder, type Recorder } from '../../src/intake/recorder.ts';
import type { Store } from '../../src/store/store.ts';
import { encodeLine } from '../../src/wire/line/codec.ts';
import { tempStore } from '../store/temp-store.ts';
import { type SimTime, simTime } from './sim-time.ts';

const NOON = instant(Date.UTC(2026, 2, 2, 12));

/** A recording of a meter with no results; `fails` says with what closing it fails now. */
function recorded(store: Store, time: SimTime, id: string, fails: () => Fault | undefined): Recorder {
  const header = { port: 'P', profile: 'tlp-generic', zone: 'UTC', openedAt: time.now() };
  const recorder = openRecorder(store, header, time.timers);
  const at = time.now();
  recorder.record({ at, dir: 'out', data: encodeLine('HELLO', { v: 1 }) });
  const meter = { v: 1, id, model: 'GM-10', fw: '1', cap: 9, held: 0, order: 'newest', clock: '2026-03-02T12:00:00' };
  recorder.record({ at, dir: 'in', data: encodeLine('METER', meter) });
  recorder.record({ at, dir: 'out', data: encodeLine('READ') });
  recorder.record({ at, dir: 'in', data: encodeLine('END', { n: 0, x: 'FFFF' }) });
  return {
    ...recorder,
    close(closedAt) {
      const fault = fails();
      if (fault) throw fault;
      recorder.close(closedAt);
    },
  };
}

/** Hands a recording to the queue, and lets time pass until it has answered. */
async function take(queue: IntakeQueue, time: SimTime, recorder: Recorder) {
  const taking = queue.take(recorder, NOON);
  await time.runUntil(time.now());
  return taking;
}

function world(): { store: Store; time: SimTime; queue: IntakeQueue; taken: string[] } {
  const store = tempStore();
  const time = simTime(NOON);
  const taken: string[] = [];
  const queue = makeIntakeQueue({
    store,
    profiles: loadProfiles(''),
    actor: 'test: serve',
    host: time,
    retryMs: 10_000,
    onTaken: (downloads) => taken.push(...downloads.map((d) => `${d.meterId} ${d.complete}`)),
  });
  return { store, time, queue, taken };
}

describe('the intake queue', () => {
  it('takes in what comes together, one after the other', async () => {
    const { store, time, queue, taken } = world();
    const all = ['A', 'B', 'C'].map((id) =>
      queue.take(
        recorded(store, time, id, () => undefined),
        NOON,
      ),
    );
    await time.runUntil(instant(NOON + 1000));
    expect((await Promise.all(all)).map(({ fault }) => fault)).toEqual([undefined, undefined, undefined]);
    expect(taken).toEqual(['A true', 'B true', 'C true']);
  });

  it('keeps what a full store cannot take, lets nothing past it, and takes it in when there is room', async () => {
    const { store, time, queue, taken } = world();
    let full: Fault | undefined = new Fault('STORE_FULL', 'The disk is full', 'Make room.');
    const first = await take(
      queue,
      time,
      recorded(store, time, 'A', () => full),
    );
    expect(first).toMatchObject({ downloads: [], fault: { code: 'STORE_FULL' } });
    expect(queue.blocked()).toMatchObject({ code: 'STORE_FULL' });
    expect(
      (
        await take(
          queue,
          time,
          recorded(store, time, 'B', () => full),
        )
      ).fault,
    ).toMatchObject({ code: 'STORE_FULL' });
    await time.runUntil(instant(NOON + 35_000));
    expect(taken).toEqual([]);
    full = undefined;
    await time.runUntil(instant(NOON + 45_000));
    expect(taken).toEqual(['A true', 'B true']);
    expect(queue.blocked()).toBeUndefined();
    expect(store.captures.unfinished()).toEqual([]);
  });

  it('is not held up by one recording that cannot be taken in for another reason; its bytes wait for the next start', async () => {
    const { store, time, queue, taken } = world();
    const broken = new Fault('PROFILE_UNKNOWN', 'No such profile', 'Add it.');
    expect(
      (
        await take(
          queue,
          time,
          recorded(store, time, 'A', () => broken),
        )
      ).fault,
    ).toMatchObject({ code: 'PROFILE_UNKNOWN' });
    await take(
      queue,
      time,
      recorded(store, time, 'B', () => undefined),
    );
    expect(taken).toEqual(['B true']);
    expect(queue.blocked()).toBeUndefined();
    expect(store.captures.unfinished()).toHaveLength(1);
  });

  it('tries what waits once more when it stops', async () => {
    const { store, time, queue, taken } = world();
    let full: Fault | undefined = new Fault('STORE_BUSY', 'Another program has it', 'Wait.');
    await take(
      queue,
      time,
      recorded(store, time, 'A', () => full),
    );
    full = undefined;
    await queue.stop();
    expect(taken).toEqual(['A true']);
  });
});
