/** The meter side of TLP/1 against the whole conversation that the protocol's page prints. */
import { describe, expect, it } from 'vitest';
import type { MemoryOrder } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { emptyMemory, keep, type TestFacts } from '../../src/virtual/memory.ts';
import type { VirtualMeter } from '../../src/virtual/meter.ts';
import { LINE_HABITS, type LineHabits, lineSpeaker } from '../../src/virtual/speak-line.ts';
import { readTlp, slowCrc, tlpLine } from '../support/tiny-tlp.ts';

const NOON = instant(Date.UTC(2026, 2, 2, 10, 15));

const inr = (value: string): TestFacts['values'][number] => ({ analyte: 'INR', value, unit: '{INR}' });

/** The meter of the page's example: three results, a clock that lost its power once. */
function exampleMeter(order: MemoryOrder = 'newest'): VirtualMeter {
  let memory = { ...emptyMemory(200, order), lastRun: 209 };
  memory = keep(memory, { kind: 'control', values: [inr('1.1')], lot: '1200003' }, '2025-12-28T18:55', 0);
  memory = keep(
    memory,
    { kind: 'patient', values: [inr('>8.0')], lot: '1200003', flags: ['rng'] },
    '2000-01-11T19:10',
    1,
  );
  const values = [inr('2.6'), { analyte: 'PT', value: '29.9', unit: 's' }];
  memory = keep(memory, { kind: 'patient', values, lot: '1200003' }, '2000-01-18T19:03', 1);
  return {
    id: 'SN00042',
    model: 'GM-10',
    firmware: '1.0',
    memory,
    clock: { rate: { ppm: 0 }, losses: 1, setting: { at: NOON, shows: wall(Date.UTC(2000, 0, 19, 4, 12, 33)) } },
    stampResolutionMs: 60_000,
    clockResolutionMs: 1000,
    tellsRunNumbers: true,
    tellsLosses: true,
    tellsDefault: false,
  };
}

/** Talks to a meter: each text is handed over as one chunk, and what comes back is given as text. */
function talk(meter: VirtualMeter, habits: Partial<LineHabits> = {}) {
  const speaker = lineSpeaker({ ...LINE_HABITS, ...habits });
  let state = speaker.step(speaker.begin(meter), { kind: 'opened', at: NOON }).state;
  const step = (input: Parameters<typeof speaker.step>[1]) => {
    const next = speaker.step(state, input);
    state = next.state;
    return next.sends;
  };
  return {
    ask: (text: string, at = NOON): string =>
      step({ kind: 'bytes', at, data: Buffer.from(text, 'latin1') })
        .map(({ data }) => Buffer.from(data).toString('latin1'))
        .join(''),
    sends: (text: string, at = NOON) => step({ kind: 'bytes', at, data: Buffer.from(text, 'latin1') }),
    test: (facts: TestFacts, at = NOON): string =>
      step({ kind: 'test', at, facts })
        .map(({ data }) => Buffer.from(data).toString('latin1'))
        .join(''),
  };
}

// Source: the section "A whole conversation" of the line protocol's page, byte for byte.
const HELLO = 'HELLO v=1*4282\r\n';
const CONVERSATION: readonly (readonly [string, string])[] = [
  [
    HELLO,
    'METER v=1 id=SN00042 model=GM-10 fw=1.0 cap=200 held=3 order=newest loss=1 clock=2000-01-19T04:12:33*5110\r\n',
  ],
  [
    'READ*DC73\r\n',
    [
      'REC i=1 n=212 t=2000-01-18T19:03 k=p a=INR v=2.6 u={INR} a2=PT v2=29.9 u2=s lot=1200003 c=1*D7B7',
      'REC i=2 n=211 t=2000-01-11T19:10 k=p a=INR v=>8.0 u={INR} lot=1200003 c=1 f=rng*79BD',
      'REC i=3 n=210 t=2025-12-28T18:55 k=c a=INR v=1.1 u={INR} lot=1200003 c=0*850A',
      'END n=3 x=679B*6117',
      '',
    ].join('\r\n'),
  ],
  ['SET t=2026-03-02T10:15:00*2943\r\n', 'CLOCK t=2026-03-02T10:15:00*6FFC\r\n'],
  ['BYE*1317\r\n', 'BYE*1317\r\n'],
];

describe('a virtual meter that speaks TLP/1', () => {
  it('says the conversation of the protocol page byte for byte', () => {
    const host = talk(exampleMeter());
    for (const [asked, answered] of CONVERSATION) expect(host.ask(asked)).toBe(answered);
  });

  it('gives the same answers wherever the host’s bytes are cut', () => {
    const asked = CONVERSATION.map(([text]) => text).join('');
    const whole = talk(exampleMeter()).ask(asked);
    for (let cut = 0; cut <= asked.length; cut++) {
      const host = talk(exampleMeter());
      expect(host.ask(asked.slice(0, cut)) + host.ask(asked.slice(cut))).toBe(whole);
    }
  });

  it('says nothing to a line that is damaged, too long, or nothing but noise, and is back in step at the next LF', () => {
    const host = talk(exampleMeter());
    expect(host.ask('HELLO v=1*4283\r\n')).toBe('');
    expect(host.ask(`${'A'.repeat(5000)}\n`)).toBe('');
    expect(host.ask('\r\n\n\0\xff\x02')).toBe('');
    expect(host.ask(`\n${HELLO}`)).toContain('METER v=1');
  });

  it('answers wrong questions with the word for what is wrong', () => {
    const host = talk(exampleMeter());
    const error = (body: string): string => /^ERR e=(\w+)/.exec(host.ask(tlpLine(body)))?.[1] ?? 'no error';
    expect(error('READ from=2 to=201')).toBe('range');
    expect(error('READ from=3 to=2')).toBe('range');
    expect(error('READ from=9 to=9')).toBe('noslot');
    expect(error('READ from=9')).toBe('syntax');
    expect(error('ERASE')).toBe('unknown');
    expect(error('SET t=2026-02-30T10:00:00')).toBe('range');
    expect(error('SET')).toBe('syntax');
    expect(error('hello v=1')).toBe('syntax');
    expect(error('HELLO v=2')).toBe('unknown');
  });

  it('tells single slots again with a proof of their own', () => {
    const lines = readTlp(Buffer.from(talk(exampleMeter()).ask(tlpLine('READ from=2 to=3')), 'latin1'));
    expect(lines.map(({ verb, keys }) => `${verb} ${keys['i'] ?? keys['n']}`)).toEqual(['REC 2', 'REC 3', 'END 2']);
    expect(lines[2]?.keys['x']).toBe(slowCrc(`${lines[0]?.body}\n${lines[1]?.body}\n`));
  });

  it('sleeps through as many HELLOs as asked, and again after BYE and after five idle minutes', () => {
    const host = talk(exampleMeter(), { sleepsThrough: 2 });
    const wakes = (at: number): boolean[] => [0, 1, 2].map((s) => host.ask(HELLO, instant(at + 1000 * s)) !== '');
    expect(host.ask(tlpLine('READ'))).toBe('');
    expect(wakes(NOON)).toEqual([false, false, true]);
    expect(host.ask(tlpLine('CLOCK'), instant(NOON + 3000))).toContain('CLOCK t=');
    host.ask(tlpLine('BYE'), instant(NOON + 4000));
    expect(wakes(NOON + 5000)).toEqual([false, false, true]);
    expect(wakes(NOON + 400_000)).toEqual([false, false, true]);
  });

  it('reads its clock at the moment of answering, not of being asked', () => {
    const [send] = talk(exampleMeter(), { answersAfterMs: 2500 }).sends(tlpLine('CLOCK'));
    expect(send?.from).toBe(NOON + 2500);
    expect(Buffer.from(send?.data ?? []).toString('latin1')).toContain('t=2000-01-19T04:12:35');
  });

  it('tells a new test by itself while it is docked, and only then', () => {
    const host = talk(exampleMeter());
    expect(host.test({ kind: 'error', values: [], errorCode: 'E3' })).toBe('');
    host.ask(HELLO);
    expect(host.test({ kind: 'patient', values: [inr('2.2')] })).toBe(
      tlpLine('NEW i=1 n=214 t=2000-01-19T04:12 k=p a=INR v=2.2 u={INR} c=1'),
    );
    host.ask(tlpLine('BYE'));
    expect(host.test({ kind: 'patient', values: [inr('2.3')] })).toBe('');
    expect(readTlp(Buffer.from(host.ask(tlpLine('READ')), 'latin1')).at(-1)?.keys['n']).toBe('6');
  });

  it('says that its clock is not set with a hyphen, and refuses SET where it has no such means', () => {
    const { clock, ...rest } = exampleMeter();
    const { setting: _none, ...unset } = clock;
    const host = talk({ ...rest, clock: unset }, { clockCanBeSet: false });
    expect(host.ask(tlpLine('CLOCK'))).toBe(tlpLine('CLOCK t=-'));
    expect(host.ask(tlpLine('SET t=2026-03-02T10:15:00'))).toBe(tlpLine('ERR e=unknown'));
    expect(host.test({ kind: 'patient', values: [inr('2.2')] })).toBe('');
    expect(host.ask(tlpLine('READ from=1 to=1'))).toContain(' t=- ');
  });

  it('tells its ring by slots and says which comes next', () => {
    const host = talk(exampleMeter('ring'));
    expect(host.ask(HELLO)).toContain('order=ring next=4');
    expect(readTlp(Buffer.from(host.ask(tlpLine('READ')), 'latin1')).map(({ keys }) => keys['n'])).toEqual([
      '210',
      '211',
      '212',
      '3',
    ]);
  });

  it('writes bytes that a value may not hold as %XX of their UTF-8 form', () => {
    const host = talk(exampleMeter());
    host.test({ kind: 'patient', values: [inr('2.2')], patientId: 'Zoë = 5 *%', operator: '{a}' });
    expect(host.ask(tlpLine('READ from=1 to=1'))).toContain('op={a} pid=Zo%C3%AB%20%3D%205%20%2A%25 ');
  });
});
