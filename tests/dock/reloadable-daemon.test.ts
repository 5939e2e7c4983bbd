/** A daemon whose docks change while it runs, over daemons that only note what was asked of them. */
import { expect, it } from 'vitest';
import { parseConfig } from '../../src/dock/config.ts';
import type { Daemon } from '../../src/dock/daemon.ts';
import { reloadableDaemon } from '../../src/dock/reloadable-daemon.ts';

const withDock = (name: string) => parseConfig(`dock = [{ name = "${name}", port = "COM3" }]`, 'config.toml');

it('tries the next settings also where those before could not be watched', async () => {
  const started: (string | undefined)[] = [];
  const daemon = reloadableDaemon((config) => {
    const name = config.docks[0]?.name;
    started.push(name);
    if (name === 'room 2') throw new Error('this dock cannot be watched');
    return { watch: () => () => undefined, stop: async () => undefined, status: () => ({ name }) } as unknown as Daemon;
  }, withDock('front desk'));
  await expect(daemon.reload(withDock('room 2'))).rejects.toThrow('cannot be watched');
  await daemon.reload(withDock('room 3'));
  expect(started).toEqual(['front desk', 'room 2', 'room 3']);
  expect(daemon.status()).toEqual({ name: 'room 3' });
});
