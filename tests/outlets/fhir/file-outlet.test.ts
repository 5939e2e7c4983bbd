/** The NDJSON files: whole deliveries only, once each, across crashes at any byte. */
import {
  appendFileSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Instant } from '../../../src/core/instant.ts';
import { fhirFileOutlet } from '../../../src/outlets/fhir/file-outlet.ts';
import { FhirFileSettings } from '../../../src/outlets/fhir/settings.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { at, first, many, NOW, reading } from './readings.ts';
import { problemsOf } from './validators.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'fhir-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const never = new AbortController().signal;

/** A fresh outlet on the folder, as after a restart. */
function outlet(parts: { files?: 'daily' | 'one'; now?: () => Instant } = {}) {
  const settings = FhirFileSettings.parse({ folder, ...(parts.files ? { files: parts.files } : {}) });
  return fhirFileOutlet(settings, { site: 'Port Alder', zone: 'Europe/Lisbon', now: parts.now ?? (() => NOW) });
}

const file = () => join(folder, 'fhir-2026-03-02.ndjson');
type Line = {
  resourceType: string;
  id: string;
  status?: string;
  meta?: { versionId?: string; tag?: { code: string }[] };
};
const lines = (path = file()): Line[] => {
  const text = readFileSync(path, 'utf8');
  expect(text.endsWith('\n')).toBe(true);
  return text
    .slice(0, -1)
    .split('\n')
    .map((line) => JSON.parse(line) as Line);
};
/** The deliveries that a file holds, by their Provenance. */
const held = (path = file()): (string | undefined)[] =>
  lines(path)
    .filter((l) => l.resourceType === 'Provenance')
    .map((l) => l.meta?.tag?.[0]?.code);

describe('writing', () => {
  it('one resource a line, each valid R4 and with an id of its own, in the file of the local day', async () => {
    const results = await outlet().send(many(3), never);
    expect(results).toEqual([{ kind: 'taken' }, { kind: 'taken' }, { kind: 'taken' }]);
    expect(held()).toEqual(['D17-1/v1', 'D17-2/v1', 'D17-3/v1']);
    for (const line of lines()) expect(problemsOf(line)).toEqual([]);
    expect(new Set(lines().map((l) => `${l.resourceType}/${l.id}`)).size).toBe(lines().length);
  });

  it('every reference names a line that stands before it', async () => {
    await outlet().send(many(5), never);
    const before = new Set<string>();
    for (const line of lines()) {
      for (const [, url] of JSON.stringify(line).matchAll(/"reference":"([^"]*)"/g)) expect(before).toContain(url);
      before.add(`${line.resourceType}/${line.id}`);
    }
  });

  it('only its owner may read a file', async () => {
    await outlet().send(many(1), never);
    if (process.platform !== 'win32') expect(statSync(file()).mode & 0o777).toBe(0o600);
    else expect(readdirSync(folder)).toHaveLength(1);
  });

  it('a correction is a later line with the same id and the next version', async () => {
    const open = outlet();
    await open.send([first()], never);
    const corrected: Delivery = {
      seq: 2,
      reading: reading({ version: 2 }),
      before: { version: 1, patientId: 'PA-2041' },
      isWithdrawn: false,
    };
    await open.send([corrected], never);
    const [old, now] = lines().filter(
      (l) => l.meta?.versionId && lines().some((m) => m.id === l.id && m !== l) && JSON.stringify(l).includes('/1"'),
    );
    expect([old?.id, old?.status, old?.meta?.versionId]).toEqual([now?.id, 'final', '1']);
    expect([now?.status, now?.meta?.versionId]).toEqual(['amended', '2']);
  });

  it('a new day begins a new file that can be read by itself; after midnight the batch of before is known', async () => {
    let now = at('2026-03-02T23:59:50Z');
    const open = outlet({ now: () => now });
    await open.send(many(2), never);
    now = at('2026-03-03T00:00:10Z');
    // The same batch again, as after an answer that got lost, and one more.
    await outlet({ now: () => now }).send(many(3), never);
    expect(held(file())).toEqual(['D17-1/v1', 'D17-2/v1']);
    const next = join(folder, 'fhir-2026-03-03.ndjson');
    expect(held(next)).toEqual(['D17-3/v1']);
    expect(lines(next).map((l) => l.resourceType)).toContain('Patient');
  });

  it('one growing file if that is wanted', async () => {
    await outlet({ files: 'one' }).send(many(1), never);
    expect(readdirSync(folder)).toEqual(['fhir.ndjson']);
  });
});

describe('exactly once', () => {
  it('the same batch again writes nothing, in the same run and after a restart', async () => {
    const open = outlet();
    await open.send(many(4), never);
    const size = statSync(file()).size;
    expect(await open.send(many(4), never)).toHaveLength(4);
    expect(await outlet().send(many(4), never)).toHaveLength(4);
    expect(statSync(file()).size).toBe(size);
  });

  it('whatever byte a crash cut the file at, every delivery is in it once after the batch came again', async () => {
    await outlet().send(many(2), never);
    const whole = readFileSync(file());
    const firstEnd = whole.indexOf('\n', whole.indexOf('{"resourceType":"Provenance"')) + 1;
    // Every byte of the second delivery and the borders of the first: a cut anywhere else in the first is alike.
    const cuts = [
      0,
      1,
      5,
      firstEnd - 2,
      firstEnd - 1,
      ...Array.from({ length: whole.length - firstEnd + 1 }, (_, i) => firstEnd + i),
    ];
    for (const cut of cuts.filter((c, i) => i < 5 || i % 7 === 0 || c > whole.length - 3)) {
      writeFileSync(file(), whole.subarray(0, cut));
      await outlet().send(many(3), never);
      expect(held()).toEqual(['D17-1/v1', 'D17-2/v1', 'D17-3/v1']);
      const own = lines().filter((l) => l.meta?.versionId !== undefined);
      expect(new Set(own.map((l) => l.id)).size).toBe(own.length);
    }
  }, 60_000);

  it('a file that was moved away while the outlet ran is begun anew, with all that its lines refer to', async () => {
    const open = outlet();
    await open.send(many(1), never);
    rmSync(file());
    await open.send(many(2).slice(1), never);
    expect(held()).toEqual(['D17-2/v1']);
    expect(lines().map((l) => l.resourceType)).toContain('Patient');
  });

  it('a file that somebody shortened is repaired before it grows', async () => {
    const open = outlet();
    await open.send(many(2), never);
    truncateSync(file(), statSync(file()).size - 10);
    await open.send(many(3).slice(2), never);
    expect(held()).toEqual(['D17-1/v1', 'D17-3/v1']);
  });
});

describe('trouble', () => {
  it('a folder that cannot be made is OUTLET_DOWN, and the batch can be sent later', async () => {
    writeFileSync(join(folder, 'in-the-way'), 'x');
    const settings = FhirFileSettings.parse({ folder: join(folder, 'in-the-way', 'sub') });
    const open = fhirFileOutlet(settings, { site: 'Port Alder', zone: 'UTC', now: () => NOW });
    await expect(open.send(many(1), never)).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
    rmSync(join(folder, 'in-the-way'));
    expect(await open.send(many(1), never)).toEqual([{ kind: 'taken' }]);
  });

  it('a file that is not ours is left as it is', async () => {
    writeFileSync(file(), 'somebody’s notes\n');
    await expect(outlet().send(many(1), never)).rejects.toMatchObject({ code: 'OUTLET_INVALID' });
    expect(readFileSync(file(), 'utf8')).toBe('somebody’s notes\n');
  });

  it('what stands behind the last whole delivery is cut off, even where it is whole lines', async () => {
    await outlet().send(many(1), never);
    const size = statSync(file()).size;
    appendFileSync(file(), '{"resourceType":"Observation","id":"x"}\n{"resourceType":"Obs');
    await outlet().send(many(1), never);
    expect(statSync(file()).size).toBe(size);
  });

  it('a setting that does not exist is refused by name', () => {
    expect(FhirFileSettings.safeParse({ folder: 'x', file: 'one' }).error?.message).toContain('file');
    expect(FhirFileSettings.safeParse({ folder: 'x', system: 'no address' }).success).toBe(false);
  });
});
