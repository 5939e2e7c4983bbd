/** Faults at a dock behind a device server, over real TCP: cut connections, vanished peers, servers that are off. */
import { createServer, type Socket } from 'node:net';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { Store } from '../../src/store/store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { serveTcp } from '../../src/virtual/serve.ts';
import { dockOf } from '../dock/made-up.ts';
import { realDaemon } from '../dock/real-daemon.ts';
import { astmPort, linePort, meterWith } from '../support/meters.ts';
import { relayTo } from '../support/relay.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260301);
const EACH_ONCE = [1, 2, 3, 4, 5, 6];
const meter = (id = 'SN00042') => ({ ...meterWith({ tests: 6 }), id });

const runNumbers = (store: Store): number[] =>
  store.db
    .statement<{ run_number: number }>('SELECT run_number FROM reading ORDER BY run_number')
    .all()
    .map((row) => row.run_number);

describe('behind a device server', () => {
  it(`a connection cut at random bytes loses and doubles nothing (SEED=${SEED})`, async () => {
    const chance = chanceFrom(SEED);
    const cuts = Array.from({ length: 16 }, () => chance.whole(1, 850));
    const served = await Promise.all(cuts.map((pullAfter, i) => serveTcp(linePort(meter(`SN${i}`), { pullAfter }), 0)));
    onTestFinished(async () => void (await Promise.all(served.map((one) => one.close()))));
    const { untilStatus, store } = realDaemon(served.map((one, i) => dockOf({ name: `dock ${i}`, port: one.where })));
    await untilStatus(({ docks }) => docks.every((dock) => dock.phase === 'docked'));
    const rows = store.db
      .statement<{ n: number; runs: number }>(
        'SELECT count(*) AS n, count(DISTINCT run_number) AS runs FROM reading GROUP BY meter_no',
      )
      .all();
    expect(rows).toEqual(Array(16).fill({ n: 6, runs: 6 }));
  });

  it('a peer that has vanished without a word is left, and the dock connects afresh', async () => {
    const served = await serveTcp(linePort(meter()), 0);
    onTestFinished(() => served.close());
    const target = new URL(served.where);
    /** A device server that forwards nothing for its first connections, and says nothing: what a half-open one looks like. */
    const sockets = new Set<Socket>();
    let connections = 0;
    const { connect } = await import('node:net');
    const proxy = createServer((socket) => {
      sockets.add(socket);
      socket.on('error', () => {});
      if (++connections <= 2) return; // accepts, and never answers
      const to = connect(Number(target.port), target.hostname);
      sockets.add(to);
      to.on('error', () => {});
      socket.pipe(to).pipe(socket);
    });
    await new Promise<void>((resolve) => proxy.listen(0, '127.0.0.1', resolve));
    onTestFinished(() => {
      for (const socket of sockets) socket.destroy();
      proxy.close();
    });
    const address = proxy.address();
    const port = `tcp://127.0.0.1:${typeof address === 'object' ? address?.port : 0}`;
    const { until, store } = realDaemon([dockOf({ name: 'ward', port })]);
    await until('ward', (dock) => dock.trouble?.code === 'METER_SILENT');
    await until('ward', (dock) => dock.phase === 'docked');
    expect(connections).toBe(3);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });

  describe('over a network that dies without a word', () => {
    const behindRelay = async () => {
      const served = await serveTcp(linePort(meter()), 0);
      const relay = await relayTo(served.where);
      onTestFinished(async () => {
        relay.close();
        await served.close();
      });
      return { served, relay };
    };
    const INR_24 = { kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }] } as const;

    it('a docked meter is missed, its dead connection is left, and it is read on when it is back', async () => {
      const { served, relay } = await behindRelay();
      const { until, store } = realDaemon([dockOf({ name: 'ward', port: relay.where })]);
      await until('ward', (dock) => dock.phase === 'docked');
      relay.die();
      served.test(INR_24);
      const { trouble } = await until('ward', (dock) => dock.trouble?.code === 'METER_SILENT');
      expect(trouble?.message).toMatch(/does not answer any more/);
      await until('ward', () => relay.opened() > 1 && relay.left() >= 1); // it tries afresh, not on the dead one
      expect(runNumbers(store)).toEqual(EACH_ONCE);
      relay.heal();
      await until('ward', (dock) => dock.phase === 'docked' && dock.trouble === undefined);
      expect(runNumbers(store)).toEqual([...EACH_ONCE, 7]);
    });

    it(`a download that it cuts off is kept as incomplete, and the rest is read when it is back (SEED=${SEED})`, async () => {
      const { relay } = await behindRelay();
      relay.dieAfter(chanceFrom(SEED).whole(250, 500));
      const { until, store } = realDaemon([dockOf({ name: 'ward', port: relay.where })]);
      await until('ward', (dock) => dock.trouble?.code === 'DOWNLOAD_CUT');
      expect(store.downloads.list()).toMatchObject([{ complete: false }]);
      await until('ward', () => relay.opened() > 1 && relay.left() >= 1);
      relay.heal();
      await until('ward', (dock) => dock.phase === 'docked' && dock.trouble === undefined);
      expect(store.downloads.list().at(-1)).toMatchObject({ complete: true });
      expect(runNumbers(store)).toEqual(EACH_ONCE);
    });
  });

  it('a server that is switched off is waited for, and said once', async () => {
    const first = await serveTcp(linePort(meter()), 0);
    const { until, store, log } = realDaemon([dockOf({ name: 'ward', port: first.where })]);
    await until('ward', (dock) => dock.phase === 'docked');
    await first.close();
    await until('ward', (dock) => dock.phase === 'absent' && dock.trouble?.code === 'PORT_MISSING');
    await new Promise((resolve) => setTimeout(resolve, 600));
    const again = await serveTcp(linePort(meter()), Number(new URL(first.where).port));
    onTestFinished(() => again.close());
    await until('ward', (dock) => dock.phase === 'docked');
    expect(log.filter((line) => line.facts['code'] === 'PORT_MISSING' && line.level !== 'debug')).toHaveLength(2);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });

  it('a meter that sends by itself is heard', async () => {
    const served = await serveTcp(astmPort(meter()), 0);
    onTestFinished(() => served.close());
    const { until, store } = realDaemon([dockOf({ name: 'ward', port: served.where, profile: 'astm-generic-newest' })]);
    await until('ward', (dock) => dock.phase === 'docked' && dock.lastDownload !== undefined);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });
});
