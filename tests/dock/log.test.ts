/** The log: rolls by day and size, survives a full disk, and lets nothing through that could name a person. */
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { type Instant, instant } from '../../src/core/instant.ts';
import { type LogLine, openLog } from '../../src/dock/log.ts';
import { openLogFile } from '../../src/dock/log-file.ts';

const NOON = Date.UTC(2026, 2, 2, 12);
const DAY = 86_400_000;

describe('the log file', () => {
  let folder: string;
  let at = NOON;
  beforeEach(() => {
    folder = join(mkdtempSync(join(tmpdir(), 'tallydock-log-')), 'log');
    at = NOON;
  });
  afterEach(() => rmSync(join(folder, '..'), { recursive: true, force: true }));
  const now = (): Instant => instant(at);
  const open = (maxBytes = 1000, keep = 100) => openLogFile({ folder, now, maxBytes, keep });
  const files = () => readdirSync(folder).sort();
  const read = (name: string) => readFileSync(join(folder, name), 'utf8');

  it('begins a new file every day', () => {
    const log = open();
    log.write('monday\n');
    at += DAY / 2 - 1;
    log.write('monday night\n');
    at += 1;
    log.write('tuesday\n');
    log.close();
    expect(files()).toEqual(['tallydock.2026-03-02.1.log', 'tallydock.2026-03-03.1.log']);
    expect(read('tallydock.2026-03-02.1.log')).toBe('monday\nmonday night\n');
    expect(read('tallydock.2026-03-03.1.log')).toBe('tuesday\n');
  });

  it('begins a new file when one is full, never cuts a line, and loses none', () => {
    const log = open(100);
    const lines = Array.from({ length: 50 }, (_, i) => `line ${i}\n`);
    for (const line of lines) log.write(line);
    log.close();
    const names = Array.from({ length: files().length }, (_, i) => `tallydock.2026-03-02.${i + 1}.log`);
    expect(names.length).toBeGreaterThan(3);
    expect(names.map(read).join('')).toBe(lines.join(''));
    for (const name of names) expect(statSync(join(folder, name)).size).toBeLessThan(100 + 'line 49\n'.length);
  });

  it('goes on after a restart where it stopped', () => {
    for (const line of ['a\n', 'b\n']) {
      const log = open();
      log.write(line);
      log.close();
    }
    expect(files()).toEqual(['tallydock.2026-03-02.1.log']);
    expect(read('tallydock.2026-03-02.1.log')).toBe('a\nb\n');
  });

  it('keeps the newest files only, counts numbers as numbers, and leaves other files alone', () => {
    mkdirSync(folder);
    for (const name of [
      'notes.txt',
      'tallydock.2026-03-01.9.log',
      'tallydock.2026-03-01.10.log',
      'tallydock.2026-02-01.1.log',
    ])
      writeFileSync(join(folder, name), 'x');
    const log = open(1000, 2);
    log.write('a\n');
    log.close();
    expect(files()).toEqual(['notes.txt', 'tallydock.2026-03-01.10.log', 'tallydock.2026-03-02.1.log']);
  });

  it('is for its owner only', () => {
    const log = open();
    log.write('a\n');
    log.close();
    expect(statSync(folder).mode & 0o077).toBe(0);
    expect(statSync(join(folder, 'tallydock.2026-03-02.1.log')).mode & 0o077).toBe(0);
  });

  it('goes on when it cannot be written, and says afterwards how many lines are missing', () => {
    writeFileSync(folder, 'a file in the place of the folder');
    const log = open();
    log.write('a\n');
    log.write('b\n');
    rmSync(folder);
    log.write('c\n');
    log.write('d\n');
    log.close();
    expect(read('tallydock.2026-03-02.1.log')).toBe('{"level":"warn","event":"lines-lost","count":2}\nc\nd\n');
  });
});

describe('the log', () => {
  let dataDir: string;
  const seen: LogLine[] = [];
  beforeEach(() => {
    dataDir = mkdtempSync(join(tmpdir(), 'tallydock-log-'));
    seen.length = 0;
  });
  afterEach(() => rmSync(dataDir, { recursive: true, force: true }));
  const written = (): string => readFileSync(join(dataDir, 'log', 'tallydock.2026-03-02.1.log'), 'utf8');
  const open = (level: 'debug' | 'info' | 'warn' = 'info') =>
    openLog({ dataDir, level, now: () => instant(NOON), onLine: (line) => seen.push(line) });

  it('writes what is let through as one JSON line with its level and time', () => {
    const log = open();
    log.info({ port: 'COM3', download: 'D17.2', new: 3, known: 57, clockOffS: -2, clockSet: true }, 'meter read');
    log.close();
    expect(JSON.parse(written())).toEqual({
      level: 'info',
      at: '2026-03-02T12:00:00.000Z',
      port: 'COM3',
      download: 'D17.2',
      new: 3,
      known: 57,
      clockOffS: -2,
      clockSet: true,
      msg: 'meter read',
    });
  });

  it('writes the code of the system where there is one', () => {
    const log = open();
    log.error(
      { code: 'INTERNAL', system: 'ERR_MODULE_NOT_FOUND', where: ['    at load (listen.ts:1:1)'] },
      'desk failed',
    );
    log.error({ code: 'INTERNAL', system: '' }, 'desk failed');
    log.close();
    const [first, second] = written()
      .trim()
      .split('\n')
      .map((line): unknown => JSON.parse(line));
    expect(first).toMatchObject({ system: 'ERR_MODULE_NOT_FOUND', where: ['    at load (listen.ts:1:1)'] });
    expect(second).not.toHaveProperty('system');
  });

  it.each(['debug', 'info', 'warn'] as const)(
    'lets nothing through at level %s that a meter or a person may have said',
    (level) => {
      const log = open(level);
      const facts = {
        patient: 'ANA-MOREIRA',
        operator: 'ANA-MOREIRA',
        meter: 'GM-10 ANA-MOREIRA',
        message: 'ANA-MOREIRA',
        hint: 'ANA-MOREIRA',
        code: 'ANA-MOREIRA',
        download: 'ANA-MOREIRA',
        phase: 'ANA-MOREIRA',
        how: 'ANA-MOREIRA',
        system: 'ANA-MOREIRA',
        version: 'ANA-MOREIRA',
        new: 'ANA-MOREIRA',
        where: ['ANA-MOREIRA', '    at take (intake.ts:1:1)'],
      };
      for (const write of [log.debug, log.info, log.warn, log.error])
        write(facts, 'The meter refused the question (ANA-MOREIRA).');
      log.warn({ code: 'METER_REFUSED', dock: 'front desk' }, 'The meter refused the question (ANA-MOREIRA).');
      log.close();
      expect(written()).not.toContain('ANA-MOREIRA');
      expect(JSON.stringify(seen)).not.toContain('ANA-MOREIRA');
      expect(written()).toContain('"dock":"front desk","code":"METER_REFUSED","msg":"trouble"');
    },
  );

  it('writes no level below the one that is wanted, and tells the foreground all but the finest', () => {
    const log = open('warn');
    log.debug({ dock: 'a' }, 'dock');
    log.info({ dock: 'b' }, 'meter docked');
    log.warn({ dock: 'c' }, 'trouble');
    log.close();
    expect(
      written()
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line).dock),
    ).toEqual(['c']);
    expect(seen.map((line) => line.facts.dock)).toEqual(['b', 'c']);
  });
});
