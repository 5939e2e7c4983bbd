/** What the lines of a meter mean, and what is kept with a flag instead of being dropped. */
import { describe, expect, it } from 'vitest';
import { createLineDecoder } from '../../../src/wire/line/decoder.ts';
import { parseMessage, slotOfBody } from '../../../src/wire/line/messages.ts';
import { bytesOf, vectors } from './vectors.ts';

const REC = 'REC i=1 n=212 t=2000-01-18T19:03 k=p a=INR v=2.6 u={INR} a2=PT v2=29.9 u2=s lot=1200003 c=1';

describe('messages', () => {
  it.each(vectors.messages)('$name', ({ bytes, ok, flags }) => {
    const [frame] = createLineDecoder().push(bytesOf(bytes));
    const parsed = parseMessage(frame?.kind === 'line' ? frame.body : '');
    expect(parsed.ok, parsed.ok ? '' : parsed.problem).toBe(ok);
    if (flags && parsed.ok && parsed.value.kind === 'rec') expect(parsed.value.test.flags).toEqual(flags);
  });

  it('reads everything that METER says', () => {
    const body =
      'METER v=1 id=SN00042 model=GM-10 fw=1.0 cap=200 held=3 order=ring next=4 loss=1 reset=2000-01-01T00:00 clock=2000-01-19T04:12:33';
    expect(parseMessage(body)).toEqual({
      ok: true,
      value: {
        kind: 'meter',
        identity: { id: 'SN00042', model: 'GM-10', firmware: '1.0' },
        capacity: 200,
        held: 3,
        order: 'ring',
        next: 4,
        lossCount: 1,
        resetStamp: Date.UTC(2000, 0, 1),
        clock: {
          kind: 'shown',
          time: { text: '2000-01-19T04:12:33', wall: Date.UTC(2000, 0, 19, 4, 12, 33), resolutionMs: 1000 },
        },
      },
    });
  });

  it('reads everything that REC says, values as the meter gave them', () => {
    expect(parseMessage(`${REC} exp=2026-11 op=anna pid=P-77 f=lo,tmp zz=new`)).toEqual({
      ok: true,
      value: {
        kind: 'rec',
        slot: 1,
        test: {
          place: '1',
          slot: 1,
          runNumber: 212,
          meterTimeText: '2000-01-18T19:03',
          meterTime: { text: '2000-01-18T19:03', wall: Date.UTC(2000, 0, 18, 19, 3), resolutionMs: 60_000 },
          kind: 'patient',
          values: [
            { analyte: 'INR', value: '2.6', unit: '{INR}' },
            { analyte: 'PT', value: '29.9', unit: 's' },
          ],
          lot: '1200003',
          lotExpiry: '2026-11',
          operator: 'anna',
          patientId: 'P-77',
          flags: ['lo', 'tmp'],
          lossCount: 1,
          extra: { zz: 'new' },
        },
      },
    });
  });

  it('keeps the text of a time, a value and an expiry that make no sense, and says so', () => {
    const parsed = parseMessage('REC i=1 t=2026-02-30T10:15 k=p a=INR v=2..6 u={INR} exp=soon');
    const test = parsed.ok && parsed.value.kind === 'rec' ? parsed.value.test : undefined;
    expect(test).toMatchObject({
      meterTimeText: '2026-02-30T10:15',
      values: [{ value: '2..6' }],
      extra: { exp: 'soon' },
      flags: ['value-unreadable', 'time-unreadable', 'expiry-unreadable'],
    });
    expect(test).not.toHaveProperty('meterTime');
    expect(test).not.toHaveProperty('lotExpiry');
  });

  it('takes four values and keeps a fifth as something unknown', () => {
    const four =
      'REC i=1 t=- k=p a=GLU v=5.0 u=mmol/L a2=KET v2=0.1 u2=mmol/L a3=HGB v3=140 u3=g/L a4=LAC v4=1 u4=mmol/L';
    const parsed = parseMessage(`${four} a5=CRP v5=2 u5=mg/L`);
    const test = parsed.ok && parsed.value.kind === 'rec' ? parsed.value.test : undefined;
    expect(test?.values.map((v) => v.analyte)).toEqual(['GLU', 'KET', 'HGB', 'LAC']);
    expect(test?.extra).toEqual({ a5: 'CRP', v5: '2', u5: 'mg/L' });
    expect(test?.meterTimeText).toBe('');
  });

  it('gives an error test no values, whatever else stands in its line', () => {
    const parsed = parseMessage('REC i=1 t=- k=e e=E4 a=INR v=2.0 u={INR}');
    const test = parsed.ok && parsed.value.kind === 'rec' ? parsed.value.test : undefined;
    expect(test).toMatchObject({
      kind: 'error',
      errorCode: 'E4',
      values: [],
      extra: { a: 'INR', v: '2.0', u: '{INR}' },
    });
  });

  it.each(['0', '12', '2.60', '<0.8', '>8.0', '0.05'])('takes %s for a decimal', (value) => {
    const parsed = parseMessage(`REC i=1 t=- k=p a=INR v=${value} u={INR}`);
    expect(parsed.ok && parsed.value.kind === 'rec' && parsed.value.test.flags).toEqual([]);
  });

  it.each(['.5', '5.', '1.2.3', '>', '<>1', '2,6', '1e3', '0x10', '+1', '1%20', 'NaN', 'Infinity'])(
    'does not take %s for a decimal',
    (value) => {
      const parsed = parseMessage(`REC i=1 t=- k=p a=INR v=${value} u={INR}`);
      expect(parsed.ok && parsed.value.kind === 'rec' && parsed.value.test.flags).toEqual(['value-unreadable']);
    },
  );

  it('lets a NEW come without a slot, and tells a verb that it does not know', () => {
    expect(parseMessage(REC.replace('REC i=1', 'NEW'))).toMatchObject({ ok: true, value: { kind: 'new' } });
    expect(parseMessage('NOTE m=x')).toEqual({ ok: true, value: { kind: 'other', verb: 'NOTE' } });
  });

  it('tells the slot of a line that cannot be used otherwise', () => {
    expect(slotOfBody('REC i=7 k=x')).toBe(7);
    expect(slotOfBody('REC k=p')).toBeUndefined();
    expect(slotOfBody('NEW i=7')).toBeUndefined();
  });
});
