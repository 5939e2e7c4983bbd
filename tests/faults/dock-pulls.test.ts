/**
 * Plugs pulled at random bytes of a conversation, with the real serial library on pseudo-terminals: socat is killed
 * behind exactly so many bytes of the meter, and started again at the same path. Each meter loses its cable three times.
 */
import { describe, expect, it, onTestFinished } from 'vitest';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import type { VirtualPort } from '../../src/virtual/port.ts';
import { openPty } from '../../src/virtual/pty.ts';
import { dockOf } from '../dock/made-up.ts';
import { realDaemon } from '../dock/real-daemon.ts';
import { MADE_AT } from '../store/temp-store.ts';
import { astmPort, linePort, meterWith } from '../support/meters.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260301);
const TESTS = 12;
const METERS = 6;
const PULLS = 3;

/** Puts a meter on a pseudo-terminal whose plug is pulled behind so many bytes, again and again. */
async function pulledMeter(port: VirtualPort, pulls: readonly number[]) {
  const waiting = [...pulls];
  let pulled = 0;
  const pty = await openPty((data) => port.receive(data));
  onTestFinished(async () => {
    port.shut();
    await pty.close();
  });
  const dock = (): void => {
    let left = waiting.shift() ?? Number.POSITIVE_INFINITY;
    port.open({
      write(data) {
        if (left <= 0) return;
        const going = data.subarray(0, Math.min(data.length, left));
        left -= going.length;
        pty.write(going);
        if (left > 0) return;
        // Not in the middle of its own sending: the meter learns of it in the next turn.
        setImmediate(() => {
          pulled++;
          port.shut();
          void pty.replug().then(dock);
        });
      },
      isFull: () => false,
      pull: () => {},
    });
  };
  dock();
  return { where: pty.path, pulled: () => pulled };
}

/** Each protocol with bytes of which a meter with so many tests sends more in every conversation. */
describe('a plug pulled at random bytes', () => {
  it.each([
    ['TLP/1', 'line', 1000],
    ['ASTM', 'astm', 2000],
  ] as const)(
    `of ${'%s'} leaves what was read, and the replugs bring every test once (SEED=${SEED})`,
    async (_name, protocol, bytes) => {
      const chance = chanceFrom(SEED);
      const served = await Promise.all(
        Array.from({ length: METERS }, (_, i) => {
          const meter = { ...meterWith({ tests: TESTS, seed: i + 1 }), id: `SN${i}` };
          // A meter that calls where nobody listens yet waits only this long before it calls again.
          const port = protocol === 'line' ? linePort(meter) : astmPort(meter, {}, { answerToCallMs: 500 });
          return pulledMeter(
            port,
            Array.from({ length: PULLS }, () => chance.whole(1, bytes)),
          );
        }),
      );
      const profile = protocol === 'line' ? {} : { profile: 'astm-generic-newest' };
      const docks = served.map(({ where }, i) => dockOf({ name: `dock ${i}`, path: where, ...profile }));
      const { untilStatus, store, log } = realDaemon(docks);
      await untilStatus(({ docks: all }) => all.every(({ phase }) => phase === 'docked'));
      expect(served.map(({ pulled }) => pulled())).toEqual(Array(METERS).fill(PULLS));
      const rows = store.db
        .statement<{ runs: string }>(
          `SELECT group_concat(run_number ORDER BY position) AS runs FROM reading WHERE status = 'settled' GROUP BY meter_no`,
        )
        .all();
      const eachOnce = Array.from({ length: TESTS }, (_, i) => i + 1).join(',');
      expect(rows).toEqual(Array(METERS).fill({ runs: eachOnce }));
      expect(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM reading').get()).toEqual({
        n: METERS * TESTS,
      });
      expect(checkStore(store).problems).toEqual([]);
      const again = rebuild(store, loadProfiles(''), { now: MADE_AT, actor: 'test' }, { accept: false });
      expect(again.differences).toEqual([]);
      expect(log.filter(({ level }) => level === 'error')).toEqual([]);
    },
    60_000,
  );
});
