/** HL7 files: one whole message a file, in an order that the names keep, the same name for the same message. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Hl7Message } from '@medplum/core';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { hl7FileOutlet } from '../../../src/outlets/hl7/file-outlet.ts';
import { Hl7FileSettings } from '../../../src/outlets/hl7/settings.ts';
import { many, NOW, reading } from '../fhir/readings.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'hl7-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const never = new AbortController().signal;
const outlet = (where = folder) =>
  hl7FileOutlet(Hl7FileSettings.parse({ folder: where }), {
    site: 'Port Alder/1',
    zone: 'Europe/Lisbon',
    now: () => NOW,
  });
const controlIds = () =>
  readdirSync(folder)
    .sort()
    .map((name) =>
      Hl7Message.parse(readFileSync(join(folder, name), 'utf8'))
        .header.getField(10)
        .toString(),
    );

it('each message is a file of its own, and the names keep the order of the log', async () => {
  expect(await outlet().send(many(12), never)).toHaveLength(12);
  expect(readdirSync(folder).sort()[1]).toBe('0000000002-1-Port_Alder_1-D17-2v1.hl7');
  expect(controlIds()).toEqual(many(12).map((d) => `${d.reading.id}v1`));
});

it('of a change of the person the withdrawal comes first', async () => {
  await outlet().send(
    [{ seq: 7, reading: reading({ version: 2 }), before: { version: 1, patientId: 'PA-7' }, isWithdrawn: false }],
    never,
  );
  expect(controlIds()).toEqual(['D17-3v2w', 'D17-3v2']);
});

it('the same batch again leaves the files as they are and writes only what is missing', async () => {
  await outlet().send(many(3), never);
  const [kept = '', gone = ''] = readdirSync(folder).sort();
  writeFileSync(join(folder, kept), 'being read');
  rmSync(join(folder, gone));
  await outlet().send(many(3), never);
  expect(readdirSync(folder)).toHaveLength(3);
  expect(readFileSync(join(folder, kept), 'utf8')).toBe('being read');
});

it('what a crash left half written has no name of a message, and is written over', async () => {
  writeFileSync(join(folder, '0000000001-1-Port_Alder_1-D17-1v1.hl7.part'), 'MSH|half');
  await outlet().send(many(1), never);
  expect(readdirSync(folder)).toEqual(['0000000001-1-Port_Alder_1-D17-1v1.hl7']);
  expect(controlIds()).toEqual(['D17-1v1']);
});

it('only its owner may read a file', async () => {
  await outlet().send(many(1), never);
  const [name = ''] = readdirSync(folder);
  expect(process.platform === 'win32' || (statSync(join(folder, name)).mode & 0o777) === 0o600).toBe(true);
});

it('a folder that cannot be written is OUTLET_DOWN, and the batch can be sent later', async () => {
  writeFileSync(join(folder, 'in-the-way'), '');
  const open = outlet(join(folder, 'in-the-way', 'sub'));
  await expect(open.send(many(1), never)).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
  rmSync(join(folder, 'in-the-way'));
  expect(await open.send(many(1), never)).toEqual([{ kind: 'taken' }]);
});
