/** Conversations with E1394 meters in simulated time. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../../src/core/instant.ts';
import { type AstmState, astmTalk } from '../../../src/wire/astm/conversation.ts';
import { decodeAstm } from '../../../src/wire/astm/decode.ts';
import { ACK, ENQ, EOT } from '../../../src/wire/astm/link-bytes.ts';
import { QUERY_RECORDS, queryFrames } from '../../../src/wire/astm/query.ts';
import type { TalkInput } from '../../../src/wire/talk.ts';
import { askedMeter, type FakeMeter, type Held, hold, sendingMeter } from './held-talk.ts';
import { END, HEADER, memoryRecords, NEWEST, only, START_AT, shape, testRecords, testsOf } from './told.ts';

const ASKED = { ...NEWEST, query: true };
const message = (from: number, to: number): string[] => [HEADER, ...memoryRecords(from, to), END];
const phases = (held: Held): string[] => [...new Set(held.progress.map(({ phase }) => phase))];
const sent = (held: Held): number[] =>
  held.effects.flatMap((effect) => (effect.kind === 'send' ? [...effect.data] : []));
const decoded = (held: Held) => only(decodeAstm(held.capture, NEWEST));

describe('a meter that sends by itself', () => {
  it('is read completely, and the end comes right after its EOT', () => {
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 5)]));
    expect(held.outcome).toEqual({ complete: true, clockSet: false });
    expect(decoded(held)).toMatchObject({ complete: true, held: 5 });
    expect(held.tookMs).toBeLessThan(1500);
    expect(phases(held)).toEqual(['waiting', 'reading', 'leaving']);
  });

  it('shows its name at once and each test as it comes', () => {
    const { progress } = hold({ profile: NEWEST }, sendingMeter([message(1, 3)]));
    const reading = progress.filter(({ phase }) => phase === 'reading');
    expect(reading.every(({ meter }) => meter?.id === 'SN00042')).toBe(true);
    expect(reading.map(({ read }) => read)).toEqual([0, 1, 2, 3]);
    expect(reading.flatMap(({ test }) => (test ? [test.slot] : []))).toEqual([1, 2, 3]);
    expect(progress.at(-1)?.held).toBe(3);
  });

  it('is made safe before the end', () => {
    const { effects } = hold({ profile: NEWEST }, sendingMeter([message(1, 2)]));
    const kinds = effects.map(({ kind }) => kind);
    expect(kinds.filter((kind) => kind === 'secure')).toHaveLength(1);
    expect(kinds.indexOf('secure')).toBeLessThan(kinds.indexOf('end'));
    expect(kinds.slice(kinds.indexOf('end') + 1)).toEqual([]);
  });

  it('is waited for, but not for ever', () => {
    const held = hold({ profile: NEWEST, waitMs: 7000 }, {});
    expect(held.outcome.trouble).toMatchObject({ code: 'METER_SILENT' });
    expect(held.tookMs).toBe(7002);
    expect(hold({ profile: NEWEST }, {}).tookMs).toBe(60_002);
  });

  it('may begin at the last moment', () => {
    const held = hold({ profile: NEWEST, waitMs: 7000 }, sendingMeter([message(1, 2)], { pauseMs: 6990 }));
    expect(held.outcome.complete).toBe(true);
  });

  it('is read although every seventh frame is damaged', () => {
    const spoil = (data: Uint8Array, count: number): Uint8Array =>
      count % 7 === 0 && data.length > 4 ? data.map((byte, i) => (i === 4 ? byte ^ 1 : byte)) : data;
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 6)], { spoil }));
    expect(held.outcome.complete).toBe(true);
    // ENQ, 32 frames, their repeats and EOT: every seventh of 39 sendings.
    expect(decoded(held).stats).toMatchObject({ damagedLines: 5, retries: 5 });
    const straight = hold({ profile: NEWEST }, sendingMeter([message(1, 6)]));
    expect(testsOf(decoded(held))).toEqual(testsOf(decoded(straight)));
  });

  it('is read although its frames end without CR LF', () => {
    const spoil = (data: Uint8Array): Uint8Array => (data.length > 4 ? data.subarray(0, -2) : data);
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 2)], { spoil }));
    expect(held.outcome.complete).toBe(true);
  });

  it('is complete although its EOT never comes', () => {
    const spoil = (data: Uint8Array): Uint8Array | undefined => (data[0] === EOT ? undefined : data);
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 2)], { spoil }));
    expect(held.outcome.complete).toBe(true);
    expect(held.tookMs).toBeGreaterThan(30_000);
  });

  it('is told twice where it repeats a frame, and used once', () => {
    const twice = (data: Uint8Array): Uint8Array => (data.length > 4 ? new Uint8Array([...data, ...data]) : data);
    let answers = 0;
    const meter = sendingMeter([message(1, 2)], { spoil: twice });
    // The second answer to a repeat is not heard: this meter clears its buffer before it sends.
    const deaf: FakeMeter = {
      ...meter,
      heard: (data, desk) => {
        answers++;
        if (answers === 1 || answers % 2 === 0) meter.heard?.(data, desk);
      },
    };
    const held = hold({ profile: NEWEST }, deaf);
    expect(held.outcome.complete).toBe(true);
    expect(shape(decoded(held))).toEqual(['2', '1']);
  });
});

describe('a transfer that breaks off', () => {
  it('keeps what came, after the meter had 30 s to begin again', () => {
    const records = message(1, 5).slice(0, 14);
    const held = hold({ profile: NEWEST }, sendingMeter([records]));
    expect(held.outcome).toMatchObject({ complete: false, trouble: { code: 'DOWNLOAD_CUT' } });
    expect(held.outcome.trouble?.message).toBe(
      'The download from GM-20 SN00042 broke off before its end; 3 tests were read and are kept',
    );
    expect(held.tookMs).toBeGreaterThan(30_000);
    expect(held.tookMs).toBeLessThan(33_000);
  });

  it('is completed when the meter sends everything again', () => {
    const held = hold(
      { profile: NEWEST },
      sendingMeter([message(1, 5).slice(0, 14), message(1, 5)], { pauseMs: 9000 }),
    );
    expect(held.outcome).toEqual({ complete: true, clockSet: false });
    expect(decoded(held)).toMatchObject({ complete: true, held: 5 });
  });

  it('is completed when the meter goes on behind what was saved', () => {
    const rest = [HEADER, ...memoryRecords(3, 5), END];
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 5).slice(0, 14), rest]));
    expect(held.outcome.complete).toBe(true);
    expect(decoded(held)).toMatchObject({ complete: true, held: 5 });
  });

  it('is over when the meter falls silent in the middle of a frame', () => {
    const spoil = (data: Uint8Array, count: number): Uint8Array | undefined =>
      count < 9 ? data : count === 9 ? data.subarray(0, 12) : undefined;
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 5)], { spoil }));
    expect(held.outcome).toMatchObject({ complete: false, trouble: { code: 'DOWNLOAD_CUT' } });
  });

  it('may begin anew with an ENQ that stands in the place of a frame’s rest', () => {
    let cut = 0;
    const spoil = (data: Uint8Array, count: number): Uint8Array | undefined => {
      if (count === 9) {
        cut = count;
        return data.subarray(0, 12);
      }
      // The meter was switched off in the middle of a frame: its EOT was never sent.
      return cut > 0 && count === 10 ? undefined : data;
    };
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 5), message(1, 5)], { spoil }));
    expect(held.outcome.complete).toBe(true);
  });

  it('is told in the meter’s own words where the meter gave up', () => {
    const held = hold({ profile: NEWEST }, sendingMeter([[HEADER, ...memoryRecords(1, 1), 'L|1|T']]));
    expect(held.outcome.trouble?.message).toMatch(/was given up by the meter; 1 test was read and is kept/);
  });
});

describe('a meter that is asked', () => {
  it('is asked for everything, twice, and both readings are compared', () => {
    const meter = askedMeter([message(1, 4), message(1, 4)]);
    const held = hold({ profile: ASKED }, meter);
    expect(held.outcome).toEqual({ complete: true, clockSet: false });
    expect(meter.questions).toEqual(Array.from({ length: 2 }, () => `${QUERY_RECORDS.join('\r')}\r`));
    expect(phases(held)).toEqual(['waking', 'reading', 'leaving']);
    const download = only(decodeAstm(held.capture, ASKED));
    expect(download).toMatchObject({ complete: true, held: 4, at: START_AT });
    expect(testsOf(download).flatMap(({ flags }) => flags)).toEqual([]);
  });

  it('is asked with the records that the documents show', () => {
    expect(QUERY_RECORDS).toEqual(['H|\\^&|||tallydock|||||||P|LIS2-A2', 'Q|1|ALL||ALL', 'L|1|N']);
  });

  it('shows a reading that differs', () => {
    const other = [HEADER, ...testRecords(1), ...testRecords(2, { inr: '9.9' }), END];
    const held = hold({ profile: ASKED }, askedMeter([message(1, 2), other]));
    const tests = testsOf(only(decodeAstm(held.capture, ASKED)));
    expect(tests.map(({ flags }) => flags)).toEqual([['readings-differ'], []]);
  });

  it('is asked a third time where an answer broke off', () => {
    const meter = askedMeter([message(1, 4).slice(0, 9), message(1, 4), message(1, 4)]);
    const held = hold({ profile: ASKED }, meter);
    expect(held.outcome.complete).toBe(true);
    expect(meter.questions).toHaveLength(2);
    const never = askedMeter([1, 2, 3, 4].map(() => message(1, 4).slice(0, 9)));
    expect(hold({ profile: ASKED }, never).outcome.trouble?.code).toBe('DOWNLOAD_CUT');
    expect(never.questions).toHaveLength(3);
  });

  it('is complete, though read once, when it falls asleep before the second question', () => {
    const held = hold({ profile: ASKED, waitMs: 20_000 }, askedMeter([message(1, 2)]));
    expect(held.outcome).toEqual({ complete: true, clockSet: false });
    expect(testsOf(only(decodeAstm(held.capture, ASKED))).map(({ flags }) => flags)).toEqual([
      ['single-read'],
      ['single-read'],
    ]);
  });

  it('is called again while it sleeps, until the wait is over', () => {
    expect(hold({ profile: ASKED }, askedMeter([message(1, 2), message(1, 2)], 2)).outcome.complete).toBe(true);
    const silent = hold({ profile: ASKED }, {});
    expect(silent.outcome.trouble).toMatchObject({ code: 'METER_SILENT', message: 'The meter did not answer' });
    expect(sent(silent).filter((byte) => byte === ENQ).length).toBe(4);
    expect(silent.tookMs).toBe(60_002);
  });

  it('may have nothing: an empty memory is complete', () => {
    const empty = [HEADER, 'L|1|I'];
    const held = hold({ profile: ASKED }, askedMeter([empty, empty]));
    expect(held.outcome.complete).toBe(true);
    expect(only(decodeAstm(held.capture, ASKED))).toMatchObject({ complete: true, held: 0 });
  });

  it('may refuse the question', () => {
    const refusing: FakeMeter = { heard: (data, desk) => desk.send(Uint8Array.of(data[0] === ENQ ? 6 : 21)) };
    const held = hold({ profile: ASKED }, refusing);
    expect(held.outcome.trouble?.code).toBe('METER_REFUSED');
    expect(sent(held).at(-1)).toBe(EOT);
  });

  it('may take the question and then send nothing: its replies are not called noise', () => {
    const mute: FakeMeter = {
      heard: (data, desk) => {
        if (data[0] !== EOT) desk.send(Uint8Array.of(ACK));
      },
    };
    const held = hold({ profile: ASKED, waitMs: 5000 }, mute);
    expect(held.outcome.trouble).toMatchObject({
      code: 'METER_REFUSED',
      message: 'The meter took the question for its results and then sent nothing',
    });
    expect(held.outcome.trouble?.hint).not.toMatch(/--baud/);
  });

  it('may take the question and then send what makes no sense, in one piece with its last reply or after it', () => {
    const noise = [0x80, 0x81, 0x82];
    const frames = queryFrames().length;
    const after: FakeMeter = { heard: (data, desk) => desk.send(Uint8Array.from(data[0] === EOT ? noise : [ACK])) };
    const behind = (): FakeMeter => {
      let replies = 0;
      return { heard: (_data, desk) => desk.send(Uint8Array.from(++replies > frames ? [ACK, ...noise] : [ACK])) };
    };
    for (const meter of [after, behind()])
      expect(hold({ profile: ASKED, waitMs: 5000 }, meter).outcome.trouble?.code).toBe('METER_GARBLED');
  });

  it('has priority when both want to speak at once', () => {
    const own = sendingMeter([message(1, 3)], { pauseMs: 0 });
    let met = false;
    const meter: FakeMeter = {
      ...own,
      heard: (data, desk) => {
        // Our ENQ met the meter's: it hears no answer, waits a second and calls again.
        if (!met && data[0] === ENQ) {
          met = true;
          desk.send(Uint8Array.of(ENQ));
          desk.wakeAfter(1000);
        } else own.heard?.(data, desk);
      },
      opened: () => {},
    };
    const held = hold({ profile: ASKED, waitMs: 15_000 }, meter);
    expect(held.outcome.complete).toBe(true);
  });
});

describe('what makes no sense', () => {
  it('is said to be so: bytes, but no frame', () => {
    const noisy: FakeMeter = {
      opened: (desk) => desk.send(Uint8Array.from({ length: 99 }, (_, i) => 0x80 + (i % 90))),
    };
    const held = hold({ profile: NEWEST, waitMs: 5000 }, noisy);
    expect(held.outcome.trouble).toMatchObject({
      code: 'METER_GARBLED',
      message: '99 bytes came, but none of them made sense',
    });
    expect(held.outcome.trouble?.hint).toMatch(/--baud/);
  });

  it('is said to be so: a meter that does not name itself', () => {
    const held = hold({ profile: NEWEST }, sendingMeter([['H|\\^&|||GM-20', ...memoryRecords(1, 1), END]]));
    expect(held.outcome.trouble).toMatchObject({ code: 'METER_GARBLED' });
    expect(held.outcome.trouble?.message).toMatch(/serial number/);
  });

  it('ends where a meter does not stop sending', () => {
    const endless: FakeMeter = {
      opened: (desk) => desk.wakeAfter(1),
      woken: (desk) => {
        desk.send(new Uint8Array(1000).fill(0x41));
        desk.wakeAfter(1);
      },
    };
    const held = hold({ profile: NEWEST, maxBytes: 50_000 }, endless);
    expect(held.outcome).toMatchObject({ complete: false, trouble: { code: 'METER_ENDLESS' } });
    expect(held.capture.chunks.reduce((sum, { data }) => sum + data.length, 0)).toBeLessThan(60_000);
  });

  it('ends where a message never ends', () => {
    const held = hold({ profile: NEWEST, maxBytes: 20_000 }, sendingMeter([[HEADER, ...memoryRecords(1, 500), END]]));
    expect(held.outcome.trouble?.code).toBe('METER_ENDLESS');
    expect(held.effects.some(({ kind }) => kind === 'secure')).toBe(true);
  });
});

describe('leaving', () => {
  it('is immediate while nothing has come', () => {
    const held = hold({ profile: NEWEST }, {}, [{ afterMs: 500, input: { kind: 'stop' } }]);
    expect(held.tookMs).toBe(502);
    expect(held.outcome.trouble).toMatchObject({
      code: 'DOWNLOAD_CUT',
      message: 'Stopped before the meter had sent anything',
    });
  });

  it('asks a sending meter to stop, by EOT in place of ACK, and keeps what came', () => {
    const slow: FakeMeter = sendingMeter([message(1, 200)]);
    const held = hold({ profile: NEWEST }, slow, [{ afterMs: 1100, input: { kind: 'stop' } }]);
    expect(sent(held).at(-1)).toBe(EOT);
    expect(held.tookMs).toBeLessThan(1110);
    expect(held.outcome.trouble).toMatchObject({ code: 'DOWNLOAD_CUT' });
    expect(decoded(held).complete).toBe(false);
    expect(testsOf(decoded(held)).length).toBeGreaterThan(3);
  });

  it('does not wait for a meter that has fallen silent', () => {
    const spoil = (data: Uint8Array, count: number): Uint8Array | undefined => (count < 9 ? data : undefined);
    const held = hold({ profile: NEWEST }, sendingMeter([message(1, 5)], { spoil }), [
      { afterMs: 3000, input: { kind: 'stop' } },
    ]);
    expect(held.tookMs).toBe(5002);
  });

  it('ends at once when the port is gone, at whatever moment', () => {
    const whole = hold({ profile: NEWEST }, sendingMeter([message(1, 4)]));
    for (let afterMs = 0; afterMs < whole.tookMs; afterMs += afterMs < 995 ? 300 : 1) {
      const held = hold({ profile: NEWEST }, sendingMeter([message(1, 4)]), [{ afterMs, input: { kind: 'closed' } }]);
      expect(held.effects.at(-1)?.kind, `after ${afterMs} ms`).toBe('end');
      const downloads = decodeAstm(held.capture, NEWEST);
      expect(held.outcome.complete, `after ${afterMs} ms`).toBe(downloads.length > 0 && only(downloads).complete);
      expect(held.outcome.trouble === undefined).toBe(held.outcome.complete);
    }
  });
});

describe('the step', () => {
  it('is pure: an older state stepped again gives the same, and no state is changed', () => {
    const { capture } = hold({ profile: NEWEST }, sendingMeter([message(1, 3)]));
    const talk = astmTalk({ profile: NEWEST });
    const inputs: TalkInput[] = [
      { kind: 'opened', at: instant(START_AT) },
      ...capture.chunks
        .filter(({ dir }) => dir === 'in')
        .flatMap(({ at, data }): TalkInput[] => [
          { kind: 'bytes', at, data: data.subarray(0, 3) },
          { kind: 'bytes', at, data: data.subarray(3) },
        ]),
    ];
    const states: AstmState[] = [talk.initial];
    const kept: string[] = [JSON.stringify(talk.initial)];
    for (const input of inputs) {
      const { state } = talk.step(states.at(-1) ?? talk.initial, input);
      states.push(state);
      kept.push(JSON.stringify(state));
    }
    inputs.forEach((input, i) => {
      const again = talk.step(states[i] ?? talk.initial, input);
      expect(JSON.stringify(again.state)).toBe(kept[i + 1]);
    });
    expect(states.map((state) => JSON.stringify(state))).toEqual(kept);
  });

  it('ignores everything after the end', () => {
    const { state } = hold({ profile: NEWEST }, sendingMeter([message(1, 1)]));
    const talk = astmTalk({ profile: NEWEST });
    const at = instant(START_AT + 99_999);
    for (const input of [
      { kind: 'timer', at },
      { kind: 'safe', at },
      { kind: 'stop', at },
      { kind: 'closed', at },
      { kind: 'bytes', at, data: Uint8Array.of(ENQ) },
    ] as const)
      expect(talk.step(state, input)).toEqual({ state, effects: [] });
  });
});
