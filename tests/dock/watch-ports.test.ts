/** Finding the port of each dock: by identity, calmly, and never a port that nobody assigned. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { matchPort } from '../../src/dock/match-ports.ts';
import { watchPorts } from '../../src/dock/watch-ports.ts';
import type { SeenPort } from '../../src/wire/transport/list-ports.ts';
import { dockOf } from './made-up.ts';
import { simTime } from './sim-time.ts';

const A: SeenPort = { path: '/dev/ttyUSB0', serialNumber: 'A1', places: ['0x14200000'] };
const B: SeenPort = { path: '/dev/ttyUSB1', serialNumber: 'B2' };
const CLONES: SeenPort[] = [
  { path: '/dev/ttyUSB0', serialNumber: '0001' },
  { path: '/dev/ttyUSB1', serialNumber: '0001' },
];
const NONE = new Set<string>();

describe('the port of a dock', () => {
  it.each([
    ['by its USB serial number', { usbSerial: 'A1' }, [A, B], NONE, { kind: 'there', port: '/dev/ttyUSB0' }],
    [
      'by the place where it is plugged in',
      { path: '0x14200000' },
      [A, B],
      NONE,
      { kind: 'there', port: '/dev/ttyUSB0' },
    ],
    ['by its name', { port: '/dev/ttyUSB1' }, [A, B], NONE, { kind: 'there', port: '/dev/ttyUSB1' }],
    [
      'by a link that is there, though it is not listed',
      { path: '/dev/p' },
      [A],
      new Set(['/dev/p']),
      { kind: 'there', port: '/dev/p' },
    ],
    ['over the network, where it always is', { port: 'tcp://h:1' }, [], NONE, { kind: 'there', port: 'tcp://h:1' }],
    ['absent where nothing fits', { usbSerial: 'C3' }, [A, B], NONE, { kind: 'absent' }],
    ['absent where only its number as a name fits', { usbSerial: '/dev/ttyUSB0' }, [A], NONE, { kind: 'absent' }],
    [
      'unclear where two fit',
      { usbSerial: '0001' },
      CLONES,
      NONE,
      { kind: 'unclear', ports: ['/dev/ttyUSB0', '/dev/ttyUSB1'] },
    ],
  ])('is found %s', (_how, dock, seen, exists, found) => {
    expect(matchPort(dock, seen, exists)).toMatchObject(found);
  });

  it('stays where it was where two fit and it was one of them', () => {
    expect(matchPort({ usbSerial: '0001' }, CLONES, NONE, '/dev/ttyUSB1')).toMatchObject({ port: '/dev/ttyUSB1' });
  });
});

describe('the watch over the ports', () => {
  const pace = { lookMs: 2000, calmLookMs: 15_000 };
  const world = (isCheap = true) => {
    const time = simTime(instant(0));
    const state = { ports: [] as SeenPort[], listings: 0, isBroken: false, made: 1 };
    const told: string[] = [];
    const watch = watchPorts(
      [dockOf({ name: 'left', usbSerial: 'A1' }), dockOf({ name: 'net', port: 'tcp://h:1' })],
      {
        now: time.now,
        timers: time.timers,
        async listPorts() {
          state.listings++;
          if (state.isBroken) throw new Error('no list');
          return state.ports;
        },
        portsMark: async () => (isCheap ? state.ports.map((port) => `${port.path} ${state.made}`).join() : undefined),
        exists: async () => false,
      },
      pace,
      (place, found) => told.push(`${place} ${found.kind} ${found.kind === 'there' ? found.port : ''}`.trim()),
    );
    return { time, state, told, watch };
  };

  it('tells each arrival, each departure and each new name once', async () => {
    const { time, state, told } = world();
    await time.runUntil(instant(10_000));
    state.ports = [A];
    await time.runUntil(instant(13_000));
    state.ports = [{ ...A, path: '/dev/ttyUSB7' }];
    await time.runUntil(instant(40_000));
    state.ports = [];
    await time.runUntil(instant(60_000));
    expect(told).toEqual(['0 absent', '1 there tcp://h:1', '0 there /dev/ttyUSB0', '0 there /dev/ttyUSB7', '0 absent']);
  });

  it('lists seldom where the cheap mark has not changed, also without any port, and every two seconds where there is none', async () => {
    const cheap = world();
    await cheap.time.runUntil(instant(600_000));
    expect(cheap.state.listings).toBeLessThanOrEqual(11);
    const costly = world(false);
    await costly.time.runUntil(instant(600_000));
    expect(costly.state.listings).toBeGreaterThan(295);
    expect(costly.state.listings).toBeLessThanOrEqual(301);
  });

  it('finds a serial number that the system knows only some seconds after the name', async () => {
    const { time, state, told } = world();
    await time.runUntil(instant(60_000));
    state.ports = [{ path: A.path }];
    await time.runUntil(instant(66_000));
    state.ports = [A];
    await time.runUntil(instant(70_000));
    expect(told).toEqual(['0 absent', '1 there tcp://h:1', '0 there /dev/ttyUSB0']);
  });

  it('notices an adapter that was exchanged for another under the same name', async () => {
    const { time, state, told } = world();
    state.ports = [{ ...A, serialNumber: 'FOREIGN' }];
    await time.runUntil(instant(60_000));
    state.ports = [A];
    state.made++;
    await time.runUntil(instant(62_000));
    expect(told).toEqual(['0 absent', '1 there tcp://h:1', '0 there /dev/ttyUSB0']);
  });

  it('outlives a list that fails, and believes nothing new meanwhile', async () => {
    const { time, state, told } = world();
    state.isBroken = true;
    await time.runUntil(instant(5000));
    expect(told).toEqual(['1 there tcp://h:1']);
    state.isBroken = false;
    state.ports = [A];
    await time.runUntil(instant(10_000));
    state.isBroken = true;
    state.ports = [];
    await time.runUntil(instant(100_000));
    expect(told).toEqual(['1 there tcp://h:1', '0 there /dev/ttyUSB0']);
    state.isBroken = false;
    await time.runUntil(instant(200_000));
    expect(told.at(-1)).toBe('0 absent');
  });

  it('ends when it is told to', async () => {
    const { time, state, watch } = world(false);
    await time.runUntil(instant(5000));
    await watch.stop();
    const before = state.listings;
    await time.runUntil(instant(100_000));
    expect(state.listings).toBe(before);
  });
});
