/** `config.toml`: strict, and an error names file, line and key. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { parseConfig, readConfig } from '../../src/dock/config.ts';
import { lineOf } from '../../src/dock/config-place.ts';

const DESK = { enabled: true, port: 4780, address: '127.0.0.1', hostNames: [], idleMinutes: 10 };
const DEFAULTS = { docks: [], desk: DESK, store: { warnFreeMb: 1024, stopFreeMb: 200 }, log: { level: 'info' } };

const WHOLE = `# Port Alder
zone = "Europe/Lisbon"
site = "port-alder"

[store]
warn-free-mb = 2000
stop-free-mb = 500

[log]
level = "debug"

[backup]
folder = "D:/copies"
every-hours = 12
keep = 30

[[dock]]
name = "left"
usb-serial = "A50285BI"

[[dock]]
name = "ward 2"
port = "tcp://192.0.2.10:4001"
profile = "astm-generic-newest"
zone = "Europe/Madrid"
set-clock = "never"
wait = 30

[[dock]]
name = "right" # behind the printer
path = "/dev/serial/by-path/pci-0000:00:14.0-usb-0:2:1.0-port0"
baud = 19200
detect = true
`;

describe('the config of a PC', () => {
  let folder = '';
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'tallydock-config-'));
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true }));

  it('may be absent', () => {
    expect(readConfig(folder)).toEqual(DEFAULTS);
  });

  it('is read from the data folder, also where an editor has put a byte order mark before it', () => {
    writeFileSync(join(folder, 'config.toml'), '\uFEFF# Port Alder\r\nzone = "Europe/Lisbon"\r\n');
    expect(readConfig(folder)).toEqual({ ...DEFAULTS, zone: 'Europe/Lisbon' });
  });

  it('holds the docks and everything else, with every default filled in', () => {
    expect(parseConfig(WHOLE, 'config.toml')).toEqual({
      zone: 'Europe/Lisbon',
      site: 'port-alder',
      docks: [
        { name: 'left', usbSerial: 'A50285BI', setClock: 'when-off', detect: false },
        {
          name: 'ward 2',
          port: 'tcp://192.0.2.10:4001',
          profile: 'astm-generic-newest',
          zone: 'Europe/Madrid',
          setClock: 'never',
          detect: false,
          waitMs: 30_000,
        },
        {
          name: 'right',
          path: '/dev/serial/by-path/pci-0000:00:14.0-usb-0:2:1.0-port0',
          setClock: 'when-off',
          baud: 19200,
          detect: true,
        },
      ],
      desk: DESK,
      store: { warnFreeMb: 2000, stopFreeMb: 500 },
      log: { level: 'debug' },
      backup: { folder: 'D:/copies', everyHours: 12, keep: 30 },
    });
  });

  it('may open the desk to other PCs, under names of its own and over TLS', () => {
    const text =
      '[desk]\naddress = "0.0.0.0"\nhost-names = ["desk.port-alder.example"]\ncertificate = "/etc/desk.pem"\nkey = "/etc/desk-key.pem"\n';
    expect(parseConfig(text, 'config.toml').desk).toEqual({
      ...DESK,
      address: '0.0.0.0',
      hostNames: ['desk.port-alder.example'],
      tls: { certificate: '/etc/desk.pem', key: '/etc/desk-key.pem' },
    });
  });

  it('may have the backups sealed', () => {
    const text = '[backup]\nfolder = "/b"\npassphrase-file = "/etc/tallydock/words"\n';
    expect(parseConfig(text, 'config.toml').backup).toEqual({
      folder: '/b',
      everyHours: 24,
      keep: 14,
      passphraseFile: '/etc/tallydock/words',
    });
  });

  it.each([
    [
      '[desk]\naddress = "0.0.0.0"\n',
      'config.toml line 2: "address" is open to other PCs and needs certificate and key',
    ],
    ['[desk]\naddress = "192.168.7.2"\n', 'config.toml line 2: "address" is open to other PCs'],
    ['[desk]\ncertificate = "/etc/desk.pem"\n', '"certificate" needs both certificate and key'],
    ['[desk]\nport = 70000\n', 'config.toml line 2: "port" is wrong'],
    ['zone = "Europe/Lisbon"\nzon = 1\n', 'config.toml line 2: "zon" is not a setting'],
    ['\n\nzone = 5\n', 'config.toml line 3: "zone"'],
    ['zone = "Atlantis/Port_Alder"\n', 'config.toml line 1: "zone" names no time zone: "Atlantis/Port_Alder"'],
    ['zone = ""\n', 'config.toml line 1: "zone"'],
    ['# one\nzone = Europe\n', 'config.toml line 2: '],
    ['[dock]\nname = "x"\n', 'config.toml line 1: "dock" must be written as [[dock]], once for each dock'],
    [WHOLE.replace('baud = 19200', 'baud = 300'), 'config.toml line 32: "baud" is wrong: expected number to be >=1200'],
    [WHOLE.replace('detect = true', 'detekt = true'), 'config.toml line 33: "detekt" is not a setting'],
    [WHOLE.replace('name = "ward 2"\n', ''), 'config.toml line 21: "name" is missing'],
    [WHOLE.replace('"ward 2"', '"left"'), 'config.toml line 22: "name" is that of another dock: "left"'],
    [WHOLE.replace('Europe/Madrid', 'Europe/Atlantis'), 'config.toml line 25: "zone" names no time zone'],
    [WHOLE.replace(':4001', ''), 'config.toml line 23: "port" is no device server'],
    [WHOLE.replace('tcp://', 'tcp:'), 'config.toml line 23: "port" is no device server'],
    [WHOLE.replace('wait = 30', 'baud = 9600'), 'config.toml line 27: "baud" belongs to serial ports'],
    [WHOLE.replace('detect = true', 'port = "COM3"'), 'config.toml line 33: "port" stands beside "path"'],
    [
      WHOLE.replace('usb-serial = "A50285BI"', ''),
      'config.toml line 18: "name" needs one of usb-serial, path and port',
    ],
    [WHOLE.replace('"never"', '"sometimes"'), 'config.toml line 26: "set-clock" must be never, when-off or always'],
    [
      WHOLE.replace('stop-free-mb = 500', 'stop-free-mb = 5000'),
      'line 7: "stop-free-mb" must not be above warn-free-mb',
    ],
    [WHOLE.replace('folder = "D:/copies"\n', ''), 'config.toml line 12: "folder" is missing'],
    [
      '[backup]\nfolder = "/b"\npassphrase-file = "words"\n',
      'config.toml line 3: "passphrase-file" must be a full path',
    ],
    ['[backup]\nfolder = "/b"\npassphrase-file = 7\n', 'config.toml line 3: "passphrase-file" is wrong'],
    ['store.stop-free-mb = "x"\n', 'config.toml line 1: "stop-free-mb" is wrong: expected number'],
  ])('is refused where it is wrong: %j', (text, message) => {
    expect(() => parseConfig(text, 'config.toml')).toThrowError(
      expect.objectContaining({ code: 'CONFIG_INVALID', message: expect.stringContaining(message) }),
    );
  });
});

describe('the line of a setting', () => {
  it.each([
    [['zone'], 2],
    [['store', 'stop-free-mb'], 7],
    [['dock', 0, 'name'], 18],
    [['dock', 1, 'name'], 22],
    [['dock', 1, 'baud'], 21],
    [['dock', 2], 29],
    [['nowhere'], 1],
  ])('%j is found, or else that of what stands around it', (path, line) => {
    expect(lineOf(WHOLE, path)).toBe(line);
  });
});
