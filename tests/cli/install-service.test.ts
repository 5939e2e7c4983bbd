/** `tallydock install-service --print`: texts that an administrator can follow, with the right paths in them. */
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { systemdText } from '../../src/cli/service-systemd.ts';
import { windowsText } from '../../src/cli/service-windows.ts';
import { makeProgram, type Program } from '../support/run-program.ts';

/** The settings of a unit, by section and name, in their order; comments and empty lines left out. */
function readUnit(text: string): Map<string, string[]> {
  const settings = new Map<string, string[]>();
  let section = '';
  for (const line of text.split('\n').filter((each) => each !== '' && !each.startsWith('#'))) {
    const head = /^\[(\w+)\]$/.exec(line);
    const [, name = '', value = ''] = /^(\w+)=(.*)$/.exec(line) ?? [];
    if (head) section = head[1] ?? '';
    else if (name === '' || section === '') throw new Error(`neither a section nor a setting: ${line}`);
    else settings.set(`${section}.${name}`, [...(settings.get(`${section}.${name}`) ?? []), value]);
  }
  return settings;
}

const PATHS = { node: '/usr/bin/node', program: '/opt/tallydock/dist/cli/main.js', data: '/var/lib/tallydock' };
/** Settings of systemd.unit(5), systemd.service(5), systemd.exec(5), systemd.kill(5), systemd.resource-control(5), from memory. */
const KNOWN: ReadonlySet<string> = new Set([
  ...['Description', 'After', 'StartLimitIntervalSec'].map((name) => `Unit.${name}`),
  ...'Type ExecStart User Group SupplementaryGroups UMask Restart RestartSec RestartPreventExitStatus KillSignal KillMode TimeoutStopSec StateDirectory StateDirectoryMode ProtectSystem ReadWritePaths ProtectHome PrivateTmp DevicePolicy DeviceAllow NoNewPrivileges CapabilityBoundingSet AmbientCapabilities RestrictAddressFamilies RestrictNamespaces RestrictRealtime RestrictSUIDSGID LockPersonality ProtectClock ProtectControlGroups ProtectHostname ProtectKernelLogs ProtectKernelModules ProtectKernelTunables RemoveIPC SystemCallArchitectures SystemCallFilter SystemCallErrorNumber'
    .split(' ')
    .map((name) => `Service.${name}`),
  'Install.WantedBy',
]);
const hasSystemd = spawnSync('systemd-analyze', ['--version']).status === 0;

describe('the systemd unit', () => {
  const unit = readUnit(systemdText(PATHS));

  it('runs exactly the daemon on its data folder, under an account of its own that may use serial ports', () => {
    expect(unit.get('Service.ExecStart')).toEqual([
      '/usr/bin/node /opt/tallydock/dist/cli/main.js serve --quiet --data /var/lib/tallydock',
    ]);
    expect(unit.get('Service.User')).toEqual(['tallydock']);
    expect(unit.get('Service.SupplementaryGroups')).toEqual(['dialout']);
    expect(unit.get('Install.WantedBy')).toEqual(['multi-user.target']);
  });

  it('starts again after a failure for ever, except where the config is wrong', () => {
    expect(unit.get('Service.Restart')).toEqual(['on-failure']);
    expect(unit.get('Unit.StartLimitIntervalSec')).toEqual(['0']);
    expect(unit.get('Service.RestartPreventExitStatus')).toEqual(['2']);
    expect(unit.get('Service.KillSignal')).toEqual(['SIGTERM']);
  });

  it('may write its data folder and use serial ports, and nothing else', () => {
    expect(unit.get('Service.ProtectSystem')).toEqual(['strict']);
    expect(unit.get('Service.ProtectHome')).toEqual(['yes']);
    expect(unit.get('Service.PrivateTmp')).toEqual(['yes']);
    expect(unit.get('Service.ReadWritePaths')).toEqual(['/var/lib/tallydock']);
    expect(unit.get('Service.StateDirectory')).toEqual(['tallydock']);
    expect(unit.get('Service.DevicePolicy')).toEqual(['closed']);
    for (const allowed of unit.get('Service.DeviceAllow') ?? []) expect(allowed).toMatch(/^char-tty\w+ rw$/);
    expect(unit.get('Service.NoNewPrivileges')).toEqual(['yes']);
    expect(unit.get('Service.CapabilityBoundingSet')).toEqual(['']);
    expect(unit.has('Service.MemoryDenyWriteExecute')).toBe(false); // Node compiles while it runs
  });

  it('may also write the folder of the automatic backups', () => {
    const named = readUnit(systemdText({ ...PATHS, backups: '/mnt/backup' }));
    expect(named.get('Service.ReadWritePaths')).toEqual(['/var/lib/tallydock /mnt/backup']);
  });

  it('quotes paths with spaces, and lets % and $ mean themselves', () => {
    const odd = readUnit(systemdText({ ...PATHS, program: '/opt/100%/main.js', data: '/srv/Port $Alder "clinic"' }));
    expect(odd.get('Service.ExecStart')).toEqual([
      '/usr/bin/node /opt/100%%/main.js serve --quiet --data "/srv/Port $$Alder \\"clinic\\""',
    ]);
    expect(odd.get('Service.StateDirectory')).toBeUndefined();
  });

  it('says so where a path lies in a home folder, which it then can read', () => {
    const text = systemdText({ ...PATHS, node: '/home/ana/.nvm/node' });
    expect(text).toContain('# Take care: /home/ana/.nvm/node lies in a home folder');
    expect(readUnit(text).get('Service.ProtectHome')).toEqual(['read-only']);
    expect(systemdText(PATHS)).not.toContain('Take care');
  });

  it('holds only settings that systemd has, and systemd itself finds nothing wrong where it is installed', () => {
    expect([...unit.keys()].filter((name) => !KNOWN.has(name))).toEqual([]);
    if (!hasSystemd) return;
    const folder = mkdtempSync(join(tmpdir(), 'tallydock-unit-'));
    try {
      const file = join(folder, 'tallydock.service');
      writeFileSync(file, systemdText({ ...PATHS, node: process.execPath }));
      const checked = spawnSync('systemd-analyze', ['verify', file], { encoding: 'utf8' });
      expect({ status: checked.status, said: checked.stderr }).toEqual({ status: 0, said: '' });
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

describe('the steps on Windows', () => {
  const paths = {
    node: 'C:\\Program Files\\nodejs\\node.exe',
    program: "C:\\Users\\O'Neill\\tallydock\\dist\\cli\\main.js",
    data: 'C:\\Program Data\\tallydock\\',
  };

  it('fill in the paths so that PowerShell and the program take them as they are', () => {
    const text = windowsText(paths);
    expect(text).toContain("-Execute 'C:\\Program Files\\nodejs\\node.exe'");
    expect(text).toContain(
      `-Argument 'C:\\Users\\O''Neill\\tallydock\\dist\\cli\\main.js serve --quiet --data "C:\\Program Data\\tallydock"'`,
    );
    expect(text).toContain(
      "& 'C:\\Program Files\\nodejs\\node.exe' 'C:\\Users\\O''Neill\\tallydock\\dist\\cli\\main.js' serve --stop",
    );
  });

  it('start it with the PC, again after a failure, without a time limit, and say how to stop it cleanly', () => {
    const text = windowsText(paths);
    for (const needed of [
      '-AtStartup',
      '-RestartCount',
      'ExecutionTimeLimit ([TimeSpan]::Zero)',
      'serve --stop',
      'sc.exe',
      'icacls',
    ])
      expect(text).toContain(needed);
  });
});

describe('tallydock install-service', () => {
  let program: Program;
  beforeEach(() => {
    program = makeProgram();
  });
  afterEach(() => program.dispose());

  it('changes nothing, and must be asked to print', async () => {
    expect(await program.run('install-service')).toMatchObject({
      code: 2,
      stdout: '',
      stderr: expect.stringContaining('--print'),
    });
  });

  it('prints the unit with the paths of this very program, which can be run', async () => {
    const { code, stdout } = await program.run('install-service', '--print', '--for', 'linux');
    expect(code).toBe(0);
    const [call = ''] = readUnit(stdout).get('Service.ExecStart') ?? [];
    const [node = '', main = ''] = call.split(' ');
    expect(call).toBe(`${node} ${main} serve --quiet --data ${program.data}`);
    expect(execFileSync(node, [main, '--version'], { encoding: 'utf8' })).toMatch(/^\d+\.\d+\.\d+\n$/);
  });

  it('gives a service a data folder of the system where none is named', async () => {
    const nameless = makeProgram({ TALLYDOCK_DATA: '' });
    const linux = await nameless.run('install-service', '--print', '--for', 'linux');
    expect(linux.stdout).toContain('ReadWritePaths=/var/lib/tallydock\n');
    const windows = await nameless.run('install-service', '--print', '--for', 'windows');
    expect(windows.stdout).toContain("'C:\\ProgramData\\tallydock'");
    nameless.dispose();
  });

  it('takes the folder of the backups from the config', async () => {
    const data = join(program.data, 'clinic');
    mkdirSync(data);
    writeFileSync(join(data, 'config.toml'), '[backup]\nfolder = "/mnt/backup"\n');
    const { stdout } = await program.run('install-service', '--print', '--for', 'linux', '--data', data);
    expect(readUnit(stdout).get('Service.ReadWritePaths')).toEqual([`${data} /mnt/backup`]);
  });

  it('prints JSON when asked to', async () => {
    const { stdout } = await program.run('install-service', '--print', '--for', 'windows', '--json');
    expect(JSON.parse(stdout)).toMatchObject({ system: 'windows', text: expect.stringContaining('ScheduledTask') });
  });
});
