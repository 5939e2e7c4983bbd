/**
 * `config.toml` in the data folder: the docks of this PC and what else is wanted different from the defaults. Read
 * strictly: a misspelt key is an error that names file, line and key, instead of a setting that silently does nothing.
 */

import { readFileSync } from 'node:fs';
import { isAbsolute, join } from 'node:path';
import { parse, TomlError } from 'smol-toml';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';
import { zoneOf } from '../core/zone.ts';
import { isDeviceServer, plainPortName } from '../wire/transport/port-names.ts';
import { parseTcpName } from '../wire/transport/tcp.ts';
import { ClinicSchema } from './config-clinic.ts';
import { DeskSchema } from './config-desk.ts';
import { type KeyPath, lineOf } from './config-place.ts';

const Zone = z.string().superRefine((name, check) => {
  try {
    zoneOf(name);
  } catch {
    check.addIssue({ code: 'custom', message: `names no time zone: "${name}"` });
  }
});

const Name = z.string().regex(/^[^\p{Cc}"]{1,60}$/u, 'must be 1 to 60 characters without quotes');

/** The ways in which a dock says which port is its own. */
const PORT_KEYS = ['usb-serial', 'path', 'port'] as const;

const DockSchema = z
  .strictObject({
    /** What people call this dock. */
    name: Name,
    /** The serial number of the USB adapter: found again wherever it is plugged in. */
    'usb-serial': z.string().min(1).optional(),
    /** The physical path of the USB socket, or a device name that stands for it. */
    path: z.string().min(1).optional(),
    /** The port's own name: COM3, /dev/ttyUSB0, or tcp://host:port. */
    port: z.string().min(1).optional(),
    /** Name of the meter profile; else the one that recognises the port, else the generic one. */
    profile: z.string().min(1).optional(),
    /** IANA zone of this dock; else that of the file. */
    zone: Zone.optional(),
    'set-clock': z.enum(['never', 'when-off', 'always'], 'must be never, when-off or always').default('when-off'),
    /** Speed of a serial line; else the profile's. */
    baud: z.int().min(1200).max(115_200).optional(),
    /** True: protocol and speed are looked for, on this port only. */
    detect: z.boolean().default(false),
    /** How long to wait for a meter that is asked over E1394, seconds. */
    wait: z.int().min(1).max(3600).optional(),
  })
  .superRefine((dock, check) => {
    const wrong = (key: string, message: string) => check.addIssue({ code: 'custom', path: [key], message });
    const given = PORT_KEYS.filter((key) => dock[key] !== undefined);
    if (given.length === 0) wrong('name', 'needs one of usb-serial, path and port to know its port by');
    if (given.length > 1) wrong(given[1] ?? '', `stands beside "${given[0]}": a dock has one of the two`);
    if (dock.port === undefined || !isDeviceServer(dock.port)) return;
    try {
      parseTcpName(dock.port);
    } catch {
      wrong('port', 'is no device server: write it as tcp://host:port, with a port from 1 to 65535');
    }
    if (dock.baud !== undefined) wrong('baud', 'belongs to serial ports: the speed is set in the device server');
  })
  .transform((dock) => ({
    name: dock.name,
    ...(dock['usb-serial'] === undefined ? {} : { usbSerial: dock['usb-serial'] }),
    ...(dock.path === undefined ? {} : { path: plainPortName(dock.path, process.platform) }),
    ...(dock.port === undefined ? {} : { port: plainPortName(dock.port, process.platform) }),
    ...(dock.profile === undefined ? {} : { profile: dock.profile }),
    ...(dock.zone === undefined ? {} : { zone: dock.zone }),
    setClock: dock['set-clock'],
    ...(dock.baud === undefined ? {} : { baud: dock.baud }),
    detect: dock.detect,
    ...(dock.wait === undefined ? {} : { waitMs: dock.wait * 1000 }),
  }));

/** One dock, checked: exactly one of `usbSerial`, `path` and `port` is there. */
export type DockConfig = z.infer<typeof DockSchema>;

/** True for a dock behind a device server: nothing on this PC shows whether it is there. */
export const isOnNetwork = ({ port }: Pick<DockConfig, 'port'>): boolean => port !== undefined && isDeviceServer(port);

const Megabytes = z.int().min(1).max(10_000_000);

/** The whole file, as it is written: strict, so that README and the tests of documents can take its settings from here. */
export const ConfigSchema = z
  .strictObject({
    /** IANA zone of the docks; the meters' clocks are expected to show its local time. */
    zone: Zone.optional(),
    /** Name of this place, for whoever puts the results of many places together. */
    site: Name.optional(),
    dock: z.array(DockSchema, 'must be written as [[dock]], once for each dock').default([]),
    store: z
      .strictObject({
        /** Free space, MB, under which somebody is told. */
        'warn-free-mb': Megabytes.default(1024),
        /** Free space, MB, under which no meter is read any more: what is not read stays in the meter. */
        'stop-free-mb': Megabytes.default(200),
      })
      .prefault({}),
    clinic: ClinicSchema.optional(),
    desk: DeskSchema.prefault({}),
    log: z
      .strictObject({
        level: z.enum(['debug', 'info', 'warn', 'error'], 'must be debug, info, warn or error').default('info'),
      })
      .prefault({}),
    backup: z
      .strictObject({
        /** Where the copies go. */
        folder: z.string().min(1),
        'every-hours': z.int().min(1).max(8760).default(24),
        /** How many copies are kept. */
        keep: z.int().min(1).max(1000).default(14),
        /** The file whose first line is the passphrase under which they are sealed; not sealed where absent. */
        'passphrase-file': z
          .string()
          .refine(isAbsolute, 'must be a full path, such as one that starts at the root')
          .optional(),
      })
      .optional(),
  })
  .superRefine((config, check) => {
    if (config.store['stop-free-mb'] > config.store['warn-free-mb'])
      check.addIssue({ code: 'custom', path: ['store', 'stop-free-mb'], message: 'must not be above warn-free-mb' });
    for (const key of ['name', 'usbSerial', 'path', 'port'] as const) {
      const said = key === 'usbSerial' ? 'usb-serial' : key;
      for (const [i, dock] of config.dock.entries()) {
        const isTwice = dock[key] !== undefined && config.dock.findIndex((d) => d[key] === dock[key]) < i;
        if (isTwice)
          check.addIssue({
            code: 'custom',
            path: ['dock', i, said],
            message: `is that of another dock: "${dock[key]}"`,
          });
      }
    }
  })
  .transform(({ zone, site, dock, store, clinic, desk, log, backup }) => ({
    ...(zone === undefined ? {} : { zone }),
    ...(site === undefined ? {} : { site }),
    docks: dock,
    ...(clinic ? { clinic } : {}),
    desk,
    store: { warnFreeMb: store['warn-free-mb'], stopFreeMb: store['stop-free-mb'] },
    log,
    ...(backup
      ? {
          backup: {
            folder: backup.folder,
            everyHours: backup['every-hours'],
            keep: backup.keep,
            ...(backup['passphrase-file'] === undefined ? {} : { passphraseFile: backup['passphrase-file'] }),
          },
        }
      : {}),
  }));

/** The settings of one PC; every default is filled in. */
export type Config = z.infer<typeof ConfigSchema>;

/** Name of the file in the data folder. */
export const CONFIG_FILE = 'config.toml';

const HINT = 'Correct the file, or remove it to use the defaults';

/** Reads the config of a data folder; no file means the defaults. Throws CONFIG_INVALID with file, line and key. */
export function readConfig(folder: string): Config {
  const file = join(folder, CONFIG_FILE);
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (cause) {
    if (systemCode(cause) === 'ENOENT') return parseConfig('', file);
    throw new Fault('CONFIG_INVALID', `${file} cannot be read`, 'Make the file readable for this user', { cause });
  }
  return parseConfig(text, file);
}

/** The config in a text; `file` is for messages. Throws CONFIG_INVALID with file, line and key. */
export function parseConfig(text: string, file: string): Config {
  let raw: unknown;
  try {
    raw = parse(text.replace(/^\uFEFF/, '')); // Windows editors like to begin with a byte order mark
  } catch (cause) {
    if (!(cause instanceof TomlError)) throw cause;
    const what = cause.message.split('\n')[0]?.replace(/^Invalid TOML document: /, '') ?? 'not TOML';
    throw new Fault('CONFIG_INVALID', `${file} line ${cause.line}: ${what}`, HINT, { cause });
  }
  const parsed = ConfigSchema.safeParse(raw);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  const around = (issue?.path ?? []).map((part) => (typeof part === 'number' ? part : String(part)));
  const isUnknown = issue?.code === 'unrecognized_keys';
  const path: KeyPath = isUnknown ? [...around, issue.keys[0] ?? ''] : around;
  const what = isUnknown ? 'is not a setting' : whatIsWrong(issue?.message ?? 'wrong', path, raw);
  // Quoted keys and values may hold anything, line ends as well; the sentence stays one line.
  const said = `"${keyOf(path)}" ${what}`.replace(/\s+/g, ' ');
  throw new Fault('CONFIG_INVALID', `${file} line ${lineOf(text, path)}: ${said}`, HINT);
}

/** The last key of a path: what stands on the line. */
const keyOf = (path: KeyPath): string => String(path.findLast((part) => typeof part === 'string') ?? '');

/** Our own messages are clauses that follow the key; the library's are made into one. */
function whatIsWrong(message: string, path: KeyPath, raw: unknown): string {
  if (path.reduce<unknown>(inside, raw) === undefined) return 'is missing';
  return /^(must|names|needs|stands|belongs|is) /.test(message)
    ? message
    : `is wrong: ${message.replace(/^(Invalid input|Too small|Too big): /, '')}`;
}

function inside(value: unknown, key: string | number): unknown {
  return typeof value === 'object' && value !== null ? Reflect.get(value, key) : undefined;
}
