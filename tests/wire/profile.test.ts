import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { BUILT_IN, parseProfile } from '../../src/wire/profile.ts';

const FOLDER = new URL('../../protocols/meters/', import.meta.url);
const read = (name: string): string => readFileSync(new URL(name, FOLDER), 'utf8');
const files = readdirSync(FOLDER).filter((name) => name.endsWith('.json'));

/** The least that an E1394 profile says, with something added. */
const astm = (more: object = {}): string =>
  JSON.stringify({ name: 'gm', protocol: 'astm', memory: { order: 'newest' }, ...more });

function refusal(jsonText: string): Fault {
  try {
    parseProfile(jsonText, 'my-meter.json');
  } catch (thrown) {
    if (thrown instanceof Fault) return thrown;
  }
  throw new Error(`accepted: ${jsonText}`);
}

describe('the profiles of this project', () => {
  it.each(files)('%s is sound, named like its file and describes its meter', (file) => {
    const profile = parseProfile(read(file), file);
    expect(`${profile.name}.json`).toBe(file);
    expect(profile.description).not.toBe('');
  });

  it('hold every profile that always exists', () => {
    expect(files).toEqual(expect.arrayContaining(BUILT_IN.map((name) => `${name}.json`)));
  });

  it('give the generic E1394 meters their order, 9600 8N1 and no way to set a clock', () => {
    for (const order of ['newest', 'oldest']) {
      const profile = parseProfile(read(`astm-generic-${order}.json`), 'generic');
      expect(profile.memory.order).toBe(order);
      expect(profile.serial).toEqual({ baud: 9600, dataBits: 8, parity: 'none', stopBits: 1 });
      expect(profile).toMatchObject({ query: false, clockSettable: false, resetStamps: 'new-year', driftPpm: 100 });
    }
  });

  it('let the clock of a line protocol meter be set', () => {
    expect(parseProfile(read('tlp-generic.json'), 'tlp').clockSettable).toBe(true);
  });
});

describe('a profile', () => {
  it('takes one field path or several, and fills in the generic ones', () => {
    const { fields } = parseProfile(astm({ fields: { time: 'R.12', patientId: ['O.3', 'P.5'] } }), 'x.json');
    expect(fields.time).toEqual(['R.12']);
    expect(fields.patientId).toEqual(['O.3', 'P.5']);
    expect(fields.lot).toEqual(['M.strip.2']);
  });

  it('takes reset stamps as a list of times', () => {
    const stamps = ['2000-01-01T00:00', '2020-06-01'];
    expect(parseProfile(astm({ resetStamps: stamps }), 'x.json').resetStamps).toEqual(stamps);
  });

  it('keeps USB ids in lower case', () => {
    const profile = parseProfile(astm({ usb: [{ vendorId: 'F055', productId: '00A0' }] }), 'x.json');
    expect(profile.usb).toEqual([{ vendorId: 'f055', productId: '00a0' }]);
  });
});

describe('a wrong profile is refused in one line that names the file and the field', () => {
  it.each([
    ['text that is not JSON', '{', /this is not JSON/],
    ['JSON that is no object', '[]', /not a profile/],
    ['a missing protocol', '{"name":"gm"}', /"protocol"/],
    ['a field that does not exist', astm({ colour: 'red' }), /"colour" is unknown/],
    [
      'a field that does not exist deeper down',
      astm({ memory: { order: 'newest', size: 3 } }),
      /"memory.size" is unknown/,
    ],
    ['a baud rate beyond the range', astm({ serial: { baud: 300 } }), /"serial.baud"/],
    ['nine data bits', astm({ serial: { dataBits: 9 } }), /"serial.dataBits": must be 7 or 8/],
    [
      'a USB id that is not four hex digits',
      astm({ usb: [{ vendorId: '12', productId: '0000' }] }),
      /"usb.0.vendorId"/,
    ],
    ['a field path of no record', astm({ fields: { value: 'Z.4' } }), /"fields.value": must be a field path/],
    ['a field path that is a number', astm({ fields: { value: 4 } }), /"fields.value": must be a field path or a list/],
    ['a control mark without its text', astm({ fields: { control: 'O.12' } }), /"fields.control"/],
    ['an analyte that is no short name', astm({ analytes: { 'PT-INR': 'inr ratio' } }), /"analytes.PT-INR"/],
    [
      'a reset stamp that does not exist',
      astm({ resetStamps: ['2000-02-30'] }),
      /"resetStamps.0": must be a time that exists/,
    ],
    ['a drift of nothing', astm({ driftPpm: 0 }), /"driftPpm"/],
    ['E1394 without the order of sending', '{"name":"gm","protocol":"astm"}', /"memory.order"/],
    ['E1394 from a ring', astm({ memory: { order: 'ring' } }), /"memory.order"/],
    ['E1394 with a clock to set', astm({ clockSettable: true }), /"clockSettable"/],
    ['a query over the line protocol', '{"name":"gm","protocol":"line","query":true}', /"query"/],
    ['a name with blanks', '{"name":"my meter","protocol":"line"}', /"name"/],
  ])('%s', (_what, text, says) => {
    const fault = refusal(text);
    expect(fault.code).toBe('PROFILE_INVALID');
    expect(fault.exitCode).toBe(2);
    expect(fault.message).toMatch(/^my-meter\.json: /);
    expect(fault.message).toMatch(says);
    expect(fault.message).not.toMatch(/\n/);
    expect(fault.hint).not.toBe('');
  });
});
