/** The meter side of E1381 and E1394: what it sends, and how it takes refusals, silence, contention and questions. */
import { describe, expect, it } from 'vitest';
import { type Instant, instant } from '../../src/core/instant.ts';
import type { VirtualMeter } from '../../src/virtual/meter.ts';
import { ASTM_HABITS, type AstmHabits, astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { meterWith, TEST_NOW } from '../support/meters.ts';
import { readRecords, readTests } from '../support/tiny-astm.ts';

const [ENQ, ACK, NAK, EOT] = ['\x05', '\x06', '\x15', '\x04'];

/** Talks to a meter byte by byte; time moves only where a test moves it. */
function talk(meter: VirtualMeter, habits: Partial<AstmHabits> = {}) {
  const speaker = astmSpeaker({ ...ASTM_HABITS, ...habits });
  let now: number = TEST_NOW;
  let state = speaker.begin(meter);
  let wakeAt: Instant | undefined;
  const feed = (input: Parameters<typeof speaker.step>[1]): string => {
    const next = speaker.step(state, input);
    state = next.state;
    wakeAt = next.wakeAt;
    return next.sends.map(({ data }) => Buffer.from(data).toString('latin1')).join('');
  };
  return {
    open: () => feed({ kind: 'opened', at: instant(now) }),
    say: (text: string) => feed({ kind: 'bytes', at: instant(now), data: Buffer.from(text, 'latin1') }),
    /** Lets the meter's own timer run out; gives how long that took and what it then said. */
    wait(): { ms: number; said: string } {
      if (wakeAt === undefined) return { ms: Number.POSITIVE_INFINITY, said: '' };
      const ms = wakeAt - now;
      now = wakeAt;
      return { ms, said: feed({ kind: 'wake', at: wakeAt }) };
    },
  };
}

type Talk = ReturnType<typeof talk>;

/** Acknowledges from here until EOT; gives everything that was sent. */
function acknowledge(host: Talk, first: string): string {
  let all = first;
  for (let said = first; said !== EOT && said !== ''; ) {
    said = host.say(ACK);
    all += said;
  }
  return all;
}

/** A frame with its sum, made by the test. */
function frame(number: number, text: string): string {
  const counted = `${number}${text}\x03`;
  const sum = [...counted].reduce((total, char) => total + char.charCodeAt(0), 0) % 256;
  return `\x02${counted}${sum.toString(16).toUpperCase().padStart(2, '0')}\r\n`;
}

describe('a virtual meter that speaks ASTM', () => {
  it('sends header, patients, orders, results, strips and terminator as the generic profile says', () => {
    const host = talk(meterWith({ tests: 2, order: 'newest' }));
    const message = readRecords(Buffer.from(acknowledge(host, host.open()), 'latin1'));
    expect(message.map((record) => record[1]).join('')).toBe('HPORRMPORRML');
    const [header] = message;
    expect(header?.[5]).toBe('GM-10^SN00042^1.0');
    expect(header?.[14]).toBe('20260302101500');
    expect(message.at(-1)).toEqual(['', 'L', '1', 'N']);
    const tests = readTests(message);
    expect(tests.map(({ slot, runNumber, time }) => [slot, runNumber, time])).toEqual([
      ['1', '2', '20260301101500'],
      ['2', '1', '20260228101500'],
    ]);
    expect(tests.flatMap(({ values }) => values.map(({ analyte, unit }) => `${analyte} ${unit}`))).toEqual([
      'INR {INR}',
      'PT s',
      'INR {INR}',
      'PT s',
    ]);
    expect(tests[0]?.lot).toMatch(/^\d{7}$/);
    expect(tests[0]?.expiry).toMatch(/^\d{8}$/);
  });

  it('tells a test that ended in an error with status X, no value, and its code as a comment', () => {
    const host = talk(meterWith({ tests: 1, errors: 1 }));
    const [test] = readTests(readRecords(Buffer.from(acknowledge(host, host.open()), 'latin1')));
    expect(test).toMatchObject({ values: [], status: 'X', time: '20260301101500' });
    expect(test?.errorCode).toMatch(/^E\d$/);
  });

  it('repeats a refused frame unchanged, and gives up with EOT after the sixth refusal', () => {
    const host = talk(meterWith({ tests: 1 }));
    expect(host.open()).toBe(ENQ);
    const header = host.say(ACK);
    expect(header.startsWith('\x021H|')).toBe(true);
    // Any byte but ACK and EOT counts as a refusal.
    for (const refusal of [NAK, NAK, '?', NAK, NAK]) expect(host.say(refusal)).toBe(header);
    expect(host.say(NAK)).toBe(EOT);
    expect(host.wait()).toEqual({ ms: 1000, said: ENQ });
  });

  it('gives up with EOT where nobody answers, and calls again', () => {
    const host = talk(meterWith({ tests: 1 }));
    host.open();
    expect(host.wait()).toEqual({ ms: 15_000, said: EOT });
    expect(host.wait()).toEqual({ ms: 1000, said: ENQ });
    host.say(ACK);
    expect(host.wait()).toEqual({ ms: 15_000, said: EOT });
  });

  it('waits ten seconds where the host is busy, and one where both called at once', () => {
    const busy = talk(meterWith({ tests: 1 }));
    busy.open();
    busy.say(NAK);
    expect(busy.wait()).toEqual({ ms: 10_000, said: ENQ });
    const both = talk(meterWith({ tests: 1 }));
    both.open();
    expect(both.say(ENQ)).toBe('');
    expect(both.wait()).toEqual({ ms: 1000, said: ENQ });
  });

  it('stamps its header when the call is answered, not when it was made', () => {
    const host = talk(meterWith({ tests: 1 }));
    host.open();
    host.say(NAK);
    host.wait();
    expect(host.say(ACK)).toContain('|20260302101510\r');
  });

  it('stops where the host asks it to, and calls again later', () => {
    const host = talk(meterWith({ tests: 3 }));
    host.open();
    host.say(ACK);
    expect(host.say(EOT)).toBe(EOT);
    expect(host.wait()).toEqual({ ms: 15_000, said: ENQ });
  });

  it('waits to be asked where that is its habit, and closes its answer with F, or I where it has nothing', () => {
    for (const [tests, code] of [
      [2, 'F'],
      [0, 'I'],
    ] as const) {
      const host = talk(meterWith({ tests }), { waitsToBeAsked: true });
      expect(host.open()).toBe('');
      expect(host.say(ENQ)).toBe(ACK);
      expect(host.say(frame(1, 'H|\\^&\r'))).toBe(ACK);
      expect(host.say(frame(2, 'Q|1|ALL\r'))).toBe(ACK);
      expect(host.say(frame(2, 'Q|1|ALL\r'))).toBe(ACK); // a repeat changes nothing
      expect(host.say(frame(3, 'L|1|N\r'))).toBe(ACK);
      const called = host.say(EOT);
      expect(called).toBe(ENQ);
      const message = readRecords(Buffer.from(acknowledge(host, called), 'latin1'));
      expect(readTests(message)).toHaveLength(tests);
      expect(message.at(-1)?.[3]).toBe(code);
    }
  });

  it('refuses a damaged question and forgets one that is never ended', () => {
    const host = talk(meterWith({ tests: 1 }), { waitsToBeAsked: true });
    host.open();
    host.say(ENQ);
    expect(host.say(frame(1, 'H|\\^&\r').replace('H', 'G'))).toBe(NAK);
    expect(host.say(frame(2, 'Q|1|ALL\r'))).toBe(NAK);
    expect(host.say(frame(1, 'H|\\^&\r').slice(0, 5))).toBe('');
    expect(host.wait()).toEqual({ ms: 30_000, said: '' });
    expect(host.say(EOT)).toBe('');
  });

  it('hears the same question wherever its bytes are cut', () => {
    const question = ENQ + frame(1, 'H|\\^&\r') + frame(2, 'Q|1|ALL\r') + frame(3, 'L|1|N\r') + EOT;
    for (let cut = 0; cut <= question.length; cut++) {
      const host = talk(meterWith({ tests: 1 }), { waitsToBeAsked: true });
      host.open();
      expect(host.say(question.slice(0, cut)) + host.say(question.slice(cut))).toBe(`${ACK}${ACK}${ACK}${ACK}${ENQ}`);
    }
  });

  it('escapes delimiters in what people keyed in', () => {
    const meter = meterWith({ tests: 0 });
    const host = talk({
      ...meter,
      memory: {
        ...meter.memory,
        held: [
          {
            slot: 1,
            test: {
              kind: 'patient',
              values: [{ analyte: 'INR', value: '2.1', unit: '{INR}' }],
              patientId: 'a|b^c\\d&e',
              made: 1,
              runNumber: 1,
              stamp: '2026-03-01T10:00',
              losses: 0,
            },
          },
        ],
      },
    });
    expect(acknowledge(host, host.open())).toContain('P|1|a&F&b&S&c&R&d&E&e\r');
  });
});
