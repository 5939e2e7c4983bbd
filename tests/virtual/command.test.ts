/** The command `virtual-meter` as a program: it says where it is, answers, and ends cleanly. */
import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { virtualMeterCommand } from '../../src/cli/virtual-meter.ts';
import { tcpHost } from '../support/tcp-host.ts';
import { readTlp, tlpLine } from '../support/tiny-tlp.ts';
import { runVirtualMeter } from '../support/virtual-meter.ts';

describe('tallydock virtual-meter', () => {
  it('prints where it listens, is what its options say, and ends with 0 on Ctrl+C', async () => {
    const running = await runVirtualMeter(
      ...['--tcp', '0', '--id', 'PA-7', '--memory', '12', '--held', '20', '--order', 'ring', '--run-numbers'],
      ...[
        '--loss-count',
        '--clock-lost',
        '--default-date',
        '2010-01-01',
        '--resolution',
        'minute',
        '--zone',
        'Asia/Kolkata',
      ],
    );
    expect(running.where).toMatch(/^tcp:\/\/127\.0\.0\.1:\d+$/);
    const host = await tcpHost(running.where);
    host.send(tlpLine('HELLO v=1') + tlpLine('READ'));
    const lines = readTlp(await host.until((heard) => readTlp(heard).some(({ verb }) => verb === 'END')));
    expect(lines[0]?.keys).toMatchObject({ id: 'PA-7', cap: '12', held: '12', order: 'ring', next: '9', loss: '1' });
    expect(lines[0]?.keys['clock']).toMatch(/^2010-/);
    const records = lines.filter(({ verb }) => verb === 'REC');
    expect(records.map(({ keys }) => Number(keys['n'])).sort((a, b) => a - b)).toEqual(
      Array.from({ length: 12 }, (_, i) => i + 9),
    );
    expect(records.every(({ keys }) => /T\d\d:\d\d$/.test(keys['t'] ?? ''))).toBe(true);
    host.socket.destroy();
    expect(await running.stop('SIGINT')).toBe(0);
  });

  it('sleeps through as many calls as asked, and stops by itself with --once', async () => {
    const running = await runVirtualMeter('--tcp', '0', '--sleep', '2', '--once', '--quiet');
    const host = await tcpHost(running.where);
    host.send(tlpLine('HELLO v=1').repeat(3));
    const heard = await host.until((bytes) => readTlp(bytes).length > 0);
    expect(readTlp(heard).map(({ verb }) => verb)).toEqual(['METER']);
    host.socket.destroy();
    expect(await running.ended()).toBe(0);
  });

  it('leaves nothing behind when a pseudo-terminal ends', async () => {
    const running = await runVirtualMeter('--pty');
    expect(existsSync(running.where)).toBe(true);
    expect(await running.stop('SIGTERM')).toBe(0);
    expect(existsSync(running.where)).toBe(false);
  });

  it('ends with 2 and one line on stderr where the call is wrong', async () => {
    const refused = await runVirtualMeter('--tcp', '70000').catch((error: Error) => error.message);
    expect(refused).toMatch(/^exit 2: tallydock: [^\n]*--tcp[^\n]*$/);
  });

  it.each([
    ['nothing to answer on', [], 'needs --tcp PORT or --pty'],
    ['two things to answer on', ['--tcp', '0', '--pty'], 'needs --tcp PORT or --pty'],
    ['a ring over ASTM', ['--tcp', '0', '--protocol', 'astm', '--order', 'ring'], '--order ring'],
    ['a memory of nothing', ['--tcp', '0', '--memory', '0'], '--memory'],
    ['a rate above one', ['--tcp', '0', '--damage', '2'], '--damage'],
    ['a date that does not exist', ['--tcp', '0', '--default-date', '2026-02-30'], '--default-date'],
    ['a drift that is no number', ['--tcp', '0', '--drift', 'fast'], '--drift'],
    ['a zone that does not exist', ['--tcp', '0', '--zone', 'Port/Alder'], 'Port/Alder'],
    ['--once on a pseudo-terminal', ['--pty', '--once'], '--once'],
  ])('refuses %s by name', async (_, args, named) => {
    const command = virtualMeterCommand()
      .exitOverride()
      .configureOutput({ writeErr: () => {} });
    await expect(command.parseAsync(args, { from: 'user' })).rejects.toThrow(named);
  });
});
