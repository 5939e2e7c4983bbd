/** The host's side of the line protocol, against meters that behave and meters that do not. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../../src/core/instant.ts';
import { zoneOf } from '../../../src/core/zone.ts';
import { encodeLine } from '../../../src/wire/line/codec.ts';
import { type LineTalkOptions, lineTalk } from '../../../src/wire/line/conversation.ts';
import { decodeLine } from '../../../src/wire/line/decode.ts';
import type { TalkEffect, TalkProgress } from '../../../src/wire/talk.ts';
import { numbersFrom } from '../../support/numbers.ts';
import { seedOr } from '../../support/seed.ts';
import { type FakeMeter, fakeMeter, type Line, runTalk, START, slotsOf, testsTold } from './fake-meter.ts';
import { bytesOf, conversation } from './vectors.ts';

const SEED = seedOr(20260301);
const OPTIONS: LineTalkOptions = { zone: zoneOf('UTC'), setClock: 'when-off', clockSettable: true };
const FACTS = { name: 'tlp-generic', analytes: {}, units: {} };
const RIGHT = { clockOffset: 0 };

const textOf = (data: Uint8Array): string => Buffer.from(data).toString('latin1');
const sentOf = (effects: readonly TalkEffect[]): string[] =>
  effects.flatMap((e) =>
    e.kind === 'send'
      ? [
          textOf(e.data)
            .trim()
            .replace(/\*....$/, ''),
        ]
      : [],
  );
const progressOf = (effects: readonly TalkEffect[]): TalkProgress[] =>
  effects.flatMap((e) => (e.kind === 'progress' ? [e.progress] : []));
const toldIn = (meter: FakeMeter): string[] => [...meter.slots.values()];

/** Runs a conversation and decodes its capture: what the gateway would make of it. */
function collect(meter: FakeMeter, world: Partial<Parameters<typeof runTalk>[0]> = {}, options = OPTIONS) {
  const result = runTalk({ talk: lineTalk(options), meterAt: () => meter, ...world } as Parameters<typeof runTalk>[0]);
  const downloads = decodeLine(result.capture, FACTS);
  const [download] = downloads;
  const tests = (download?.image ?? []).flatMap((item) => (item.kind === 'test' ? [item.test] : []));
  return { ...result, downloads, download, tests };
}

describe('a whole conversation', () => {
  it('says byte for byte what the protocol document shows', () => {
    const script = conversation('from HELLO to BYE, with the clock set');
    const talk = lineTalk(OPTIONS);
    // The second before the one that the document sets: the conversation waits for it.
    let at = instant(Date.UTC(2026, 2, 2, 10, 14, 59, 100));
    let { state, effects } = talk.step(talk.initial, { kind: 'opened', at });
    const sent: string[] = [];
    const take = (): void => {
      for (const effect of effects) if (effect.kind === 'send') sent.push(textOf(effect.data));
    };
    take();
    for (const { from, bytes } of script) {
      if (from === 'host') {
        expect(sent.shift()).toBe(textOf(bytes));
        continue;
      }
      ({ state, effects } = talk.step(state, { kind: 'bytes', at, data: bytes }));
      take();
      if (effects.some((e) => e.kind === 'secure')) {
        ({ state, effects } = talk.step(state, { kind: 'safe', at }));
        expect(effects).toContainEqual({ kind: 'timer', afterMs: 900 });
        at = instant(at + 900);
        ({ state, effects } = talk.step(state, { kind: 'timer', at }));
        take();
      }
    }
    expect(sent).toEqual([]);
    expect(effects.at(-1)).toEqual({ kind: 'end', outcome: { complete: true, clockSet: true } });
  });

  it('gives the same effects wherever the stream of the meter is cut into chunks', () => {
    const meter = (): FakeMeter => fakeMeter({ slots: slotsOf(testsTold(3)), ...RIGHT });
    const whole = collect(meter());
    const bytes = whole.capture.chunks.filter((c) => c.dir === 'in').map((c) => c.data);
    const talk = lineTalk(OPTIONS);
    const feed = (cutAt: number): string[] => {
      let { state, effects } = talk.step(talk.initial, { kind: 'opened', at: START });
      const out = sentOf(effects);
      for (const line of bytes) {
        const parts = [line.subarray(0, cutAt), line.subarray(cutAt)].filter((part) => part.length > 0);
        for (const data of parts) {
          ({ state, effects } = talk.step(state, { kind: 'bytes', at: START, data }));
          out.push(...sentOf(effects));
          if (effects.some((e) => e.kind === 'secure')) {
            ({ state, effects } = talk.step(state, { kind: 'safe', at: START }));
            out.push(...sentOf(effects));
          }
        }
      }
      expect(effects.at(-1)).toEqual({ kind: 'end', outcome: { complete: true, clockSet: false } });
      return out;
    };
    for (let cut = 0; cut < 130; cut++) expect(feed(cut)).toEqual(['HELLO v=1', 'READ', 'BYE']);
  });

  it('is a pure function: the same state and input give the same result again', () => {
    const talk = lineTalk(OPTIONS);
    const first = talk.step(talk.initial, { kind: 'opened', at: START });
    const input = { kind: 'bytes', at: START, data: bytesOf('METER v=1') } as const;
    const kept = JSON.stringify(first.state);
    expect(talk.step(first.state, input)).toEqual(talk.step(first.state, input));
    expect(JSON.stringify(first.state)).toBe(kept);
  });

  it('tells how many results are read of how many, and each as it arrives', () => {
    const { effects } = collect(fakeMeter({ slots: slotsOf(testsTold(3)), ...RIGHT }));
    const reading = progressOf(effects).filter((p) => p.phase === 'reading');
    expect(reading.map((p) => [p.read, p.held, p.test?.runNumber])).toEqual([
      [0, 3, undefined],
      [1, 3, 3],
      [2, 3, 2],
      [3, 3, 1],
    ]);
    expect(progressOf(effects).map((p) => p.phase)).toEqual([
      'waking',
      'reading',
      'reading',
      'reading',
      'reading',
      'leaving',
    ]);
  });

  it.each([0, 1, 12])('reads a memory of %i results completely', (count) => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(count)), ...RIGHT });
    const { outcome, download, tests } = collect(meter);
    expect(outcome).toEqual({ complete: true, clockSet: false });
    expect(download).toMatchObject({ complete: true, held: count, stats: { damagedLines: 0, retries: 0 } });
    expect(tests.map((t) => t.runNumber)).toEqual(Array.from({ length: count }, (_, i) => i + 1));
  });

  it('needs no more than 1.03 times the time of its bytes for a full memory of 200 at 9600 baud', () => {
    const { outcome, durationMs, bytes } = collect(fakeMeter({ cap: 200, slots: slotsOf(testsTold(200)), ...RIGHT }));
    expect(outcome.complete).toBe(true);
    expect(durationMs / ((bytes / 960) * 1000)).toBeLessThan(1.03);
  });
});

describe('a meter that sleeps, is busy, or says no', () => {
  it('wakes a meter with up to five HELLOs, one a second', () => {
    const { outcome, effects, download } = collect(fakeMeter({ asleep: 4, slots: slotsOf(testsTold(2)), ...RIGHT }));
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects).filter((line) => line.startsWith('HELLO'))).toHaveLength(5);
    expect(effects.flatMap((e) => (e.kind === 'timer' ? [e.afterMs] : [])).slice(0, 5)).toEqual([
      1000, 1000, 1000, 1000, 2000,
    ]);
    expect(download?.stats.retries).toBe(4);
    // The clock was read at some moment since the first HELLO: an answer may belong to any of them.
    expect(download?.clock[0]).toMatchObject({ kind: 'anchor', from: START });
  });

  it('says that no meter answered when nothing comes', () => {
    const { outcome, downloads, effects } = collect(fakeMeter({ deaf: true }));
    expect(outcome).toMatchObject({ complete: false, clockSet: false, trouble: { code: 'METER_SILENT' } });
    expect(sentOf(effects)).toEqual(Array.from({ length: 5 }, () => 'HELLO v=1'));
    expect(downloads).toEqual([]);
  });

  it('says that nothing could be read when only garbage comes', () => {
    const { outcome } = collect(fakeMeter(), {
      line: (data, dir) => (dir === 'in' ? data.map((b) => b ^ 0x55) : data),
    });
    expect(outcome.trouble?.code).toBe('METER_GARBLED');
  });

  it('asks a busy meter again, and gives up with its reason after three tries', () => {
    const busy = (times: number): FakeMeter =>
      fakeMeter({
        slots: slotsOf(testsTold(2)),
        ...RIGHT,
        instead: Array.from({ length: times }, () => ({ verb: 'READ', bodies: ['ERR e=busy m=testing'] })),
      });
    expect(collect(busy(2)).outcome.complete).toBe(true);
    const { outcome, download } = collect(busy(3));
    expect(outcome.trouble).toMatchObject({ code: 'METER_REFUSED', message: expect.stringContaining('testing') });
    expect(download).toMatchObject({ complete: false, cut: 'refused' });
  });

  it('stops at once at any other refusal', () => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(2)), instead: [{ verb: 'READ', bodies: ['ERR e=unknown'] }] });
    const { outcome, effects } = collect(meter);
    expect(outcome.trouble?.code).toBe('METER_REFUSED');
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ', 'BYE']);
  });

  it.each(['syntax', 'busy'])('takes %s for a question that was lost on the way', (code) => {
    const meter = fakeMeter({
      slots: slotsOf(testsTold(2)),
      ...RIGHT,
      instead: [{ verb: 'READ', bodies: [`ERR e=${code}`] }],
    });
    expect(collect(meter).outcome.complete).toBe(true);
  });

  it('ends a meter that never stops sending, whatever it sends', () => {
    for (const body of ['REC i=1 t=- k=p a=INR v=2.0 u={INR}', 'NOTE m=x', 'CLOCK t=-', 'ERR e=busy']) {
      const flood = Array.from({ length: 3000 }, () => body);
      const reading = collect(fakeMeter({ slots: slotsOf(testsTold(2)), instead: [{ verb: 'READ', bodies: flood }] }));
      expect(reading.outcome.complete).toBe(false);
      if (!body.startsWith('ERR')) expect(reading.outcome.trouble?.code).toBe('METER_ENDLESS');
      const waking = collect(fakeMeter({ instead: [{ verb: 'HELLO', bodies: flood }] }));
      expect(waking.outcome.trouble?.code).toMatch(/METER_(ENDLESS|REFUSED|GARBLED)|DOWNLOAD_CUT/);
    }
  });

  it('comes to an end even where bytes trickle for ever without a line end', () => {
    const unasked = Array.from({ length: 4000 }, (_, i) => ({ afterMs: i * 50, data: bytesOf('x') }));
    const before = collect(fakeMeter({ deaf: true }), { unasked });
    expect(before.outcome.trouble?.code).toBe('METER_GARBLED');
    const later = unasked.map(({ data }, i) => ({ afterMs: 150 + i * 50, data }));
    const during = collect(fakeMeter({ instead: [{ verb: 'READ', bodies: [] }] }), { unasked: later });
    expect(during.outcome.trouble?.code).toBe('DOWNLOAD_CUT');
  });
});

describe('what the line damages', () => {
  const lose = (wanted: (text: string, dir: 'in' | 'out', times: number) => boolean): Line => {
    let times = 0;
    return (data, dir) => (wanted(textOf(data), dir, times) && ++times > 0 ? undefined : data);
  };
  const spoil = (wanted: RegExp, times = 1): Line => {
    let left = times;
    return (data, dir) => {
      if (dir === 'out' || left === 0 || !wanted.test(textOf(data))) return data;
      left--;
      return data.map((byte, i) => (i === 5 ? byte ^ 1 : byte));
    };
  };

  it('fetches damaged results again one by one, and proves the whole with them', () => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(12)), ...RIGHT });
    const { outcome, effects, download, tests } = collect(meter, { line: spoil(/REC i=[4579] /, 4) });
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects)).toEqual([
      'HELLO v=1',
      'READ',
      'READ from=4 to=4',
      'READ from=5 to=5',
      'READ from=7 to=7',
      'READ from=9 to=9',
      'BYE',
    ]);
    expect(download).toMatchObject({ complete: true, stats: { damagedLines: 4, retries: 4 } });
    expect(tests).toHaveLength(12);
  });

  it('fetches the first and the last result too, and a result that is damaged twice', () => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(5)), ...RIGHT });
    const { outcome, effects } = collect(meter, { line: spoil(/REC i=[15] /, 3) });
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects).filter((line) => line === 'READ from=1 to=1')).toHaveLength(2);
  });

  it('finds a lost result in a ring with empty slots, likely gaps first', () => {
    const told = testsTold(6);
    const slots = new Map([1, 2, 5, 6, 9, 10].map((slot, i) => [slot, told[i] ?? '']));
    const meter = fakeMeter({ order: 'ring', next: 11, cap: 12, slots, ...RIGHT });
    const { outcome, effects } = collect(meter, { line: spoil(/REC i=9 /) });
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects).filter((line) => line.startsWith('READ from'))).toEqual([
      'READ from=7 to=7',
      'READ from=8 to=8',
      'READ from=9 to=9',
    ]);
  });

  it('asks for everything again when END was damaged, after HELLO has shown the same meter', () => {
    const { outcome, effects } = collect(fakeMeter({ slots: slotsOf(testsTold(3)), ...RIGHT }), { line: spoil(/END/) });
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ', 'HELLO v=1', 'READ', 'BYE']);
  });

  it('keeps what two broken answers have told between them, and lets the proof decide', () => {
    let answers = 0;
    const line: Line = (data, dir) => {
      const text = textOf(data);
      if (dir === 'out' && text.startsWith('READ*')) answers++;
      const isLost =
        dir === 'in' &&
        ((answers === 1 && /REC i=[1-3] |END/.test(text)) || (answers === 2 && /REC i=[4-6] /.test(text)));
      return isLost ? undefined : data;
    };
    const { outcome, effects, tests } = collect(fakeMeter({ slots: slotsOf(testsTold(6)), ...RIGHT }), { line });
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects).some((text) => text.startsWith('READ from'))).toBe(false);
    expect(tests).toHaveLength(6);
  });

  it('asks again when a question is lost', () => {
    const line = lose((text, dir, times) => dir === 'out' && text.startsWith('READ') && times < 2);
    const { outcome, download } = collect(fakeMeter({ slots: slotsOf(testsTold(3)), ...RIGHT }), { line });
    expect(outcome.complete).toBe(true);
    expect(download?.complete).toBe(true);
  });

  it('gives up after three tries, keeps what came, and says how much of how much', () => {
    const { outcome, download, tests } = collect(fakeMeter({ slots: slotsOf(testsTold(5)), ...RIGHT }), {
      line: (data, dir) => (dir === 'in' && /REC i=3 |END/.test(textOf(data)) ? undefined : data),
    });
    expect(outcome.trouble).toMatchObject({ code: 'DOWNLOAD_CUT', message: expect.stringContaining('4 of 5') });
    expect(download).toMatchObject({
      complete: false,
      clock: [{ kind: 'anchor' }, { kind: 'anchor' }, { kind: 'anchor' }, { kind: 'anchor' }],
    });
    expect(tests).toHaveLength(4);
    expect(download?.image).toContainEqual({ kind: 'hole', atMost: 1 });
  });

  it('does not ask for ever for a result whose line breaks the rules: it says so instead', () => {
    const slots = slotsOf(testsTold(4));
    slots.set(2, 't=2026-01-01T08:00 k=p a=INR v=2.2');
    const { outcome, effects, download } = collect(fakeMeter({ slots, ...RIGHT }));
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ', 'BYE']);
    expect(outcome.trouble).toMatchObject({
      code: 'DOWNLOAD_CUT',
      message: expect.stringMatching(/^1 of the results/),
    });
    expect(download).toMatchObject({ complete: false, cut: 'damaged', stats: { damagedLines: 1 } });
  });

  it('does not believe a proof that counts fewer results than the meter says it holds', () => {
    const short = ['REC i=1 n=3 t=- k=p a=INR v=2.0 u={INR}'];
    const claim = encodeEnd(short);
    const meter = fakeMeter({
      slots: slotsOf(testsTold(3)),
      ...RIGHT,
      instead: Array.from({ length: 3 }, () => ({ verb: 'READ', bodies: [...short, claim] })),
    });
    const { outcome, download } = collect(meter);
    expect(outcome.complete).toBe(false);
    expect(download?.complete).toBe(false);
  });

  it(`with bytes damaged both ways never has a wrong value, and is whole when it says so (SEED=${SEED})`, () => {
    let complete = 0;
    for (let run = 0; run < 90; run++) {
      const random = numbersFrom(SEED + run);
      const order = (['newest', 'oldest', 'ring'] as const)[run % 3] ?? 'ring';
      const told = testsTold(30);
      const slots = slotsOf(order === 'newest' ? told : [...told].reverse());
      const meter = fakeMeter({ order, slots, cap: 40, ...(order === 'ring' ? { next: 31 } : {}), clockOffset: -9e6 });
      const rate = [1 / 2000, 1 / 500, 1 / 150][run % 3] ?? 0;
      const line: Line = (data) =>
        data.map((byte) => (random() < rate ? byte ^ (1 << Math.floor(random() * 8)) : byte));
      const { outcome, download, tests } = collect(meter, { line });
      const said = new Set(toldIn(meter).map((text) => text.split(' ')[1]));
      for (const test of tests) {
        expect(said).toContain(`t=${test.meterTimeText}`);
        expect(told[30 - (test.runNumber ?? 0)]).toContain(` v=${test.values[0]?.value} `);
      }
      expect(tests.map((t) => t.runNumber)).toEqual([...tests.map((t) => t.runNumber ?? 0)].sort((a, b) => a - b));
      if (outcome.complete) {
        complete++;
        expect(download?.complete).toBe(true);
        expect(tests).toHaveLength(30);
      }
      if (outcome.complete === false) expect(download?.clock.every((e) => e.kind !== 'set') ?? true).toBe(true);
    }
    expect(complete).toBeGreaterThan(60);
  });
});

/** END's body for these REC bodies, through the line writer that the tests do not share with the meter. */
function encodeEnd(bodies: readonly string[]): string {
  let crc = 0xffff;
  for (const byte of bytesOf(bodies.map((body) => `${body}\n`).join(''))) {
    crc ^= byte << 8;
    for (let bit = 0; bit < 8; bit++) crc = (crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1) & 0xffff;
  }
  return `END n=${bodies.length} x=${crc.toString(16).toUpperCase().padStart(4, '0')}`;
}

describe('the clock', () => {
  it('is set to the local time of the dock on a full second, and read back', () => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(2)), clockOffset: -3_600_000 });
    const { outcome, effects, capture, download } = collect(meter, {}, { ...OPTIONS, zone: zoneOf('Europe/Lisbon') });
    expect(outcome).toEqual({ complete: true, clockSet: true });
    const set = sentOf(effects).find((line) => line.startsWith('SET'));
    const sentAt = capture.chunks.find((c) => textOf(c.data).startsWith('SET'))?.at ?? 0;
    expect(sentAt % 1000).toBe(0);
    expect(set).toBe(`SET t=${new Date(sentAt).toISOString().slice(0, 19)}`);
    expect(download?.clock.map((e) => e.kind)).toEqual(['anchor', 'set', 'anchor']);
    expect(download?.clock[1]).toMatchObject({ outcome: 'confirmed', asked: sentAt, from: sentAt });
  });

  it.each([
    ['is left alone when it is off by less than a minute', 'when-off', 55_000, false],
    ['is set when it is off by more than a minute', 'when-off', 65_000, true],
    ['is left alone when nobody wants it set', 'never', 9e9, false],
    ['is set, though right, when it is always to be set', 'always', 0, true],
  ] as const)('%s', (_, setClock, clockOffset, isSet) => {
    const { outcome } = collect(fakeMeter({ clockOffset }), {}, { ...OPTIONS, setClock });
    expect(outcome).toEqual({ complete: true, clockSet: isSet });
  });

  it('is set when it shows nothing at all', () => {
    const { outcome, download } = collect(fakeMeter());
    expect(outcome.clockSet).toBe(true);
    expect(download?.clock.map((e) => e.kind)).toEqual(['unset', 'set', 'anchor']);
  });

  it('is left alone where the profile says that it cannot be set', () => {
    expect(collect(fakeMeter(), {}, { ...OPTIONS, clockSettable: false }).outcome.clockSet).toBe(false);
  });

  it('is never touched before everything is stored, nor after an incomplete read', () => {
    const { effects } = collect(fakeMeter());
    const kinds = effects.map((e) => (e.kind === 'send' ? textOf(e.data).slice(0, 3) : e.kind));
    expect(kinds.indexOf('secure')).toBeGreaterThan(0);
    expect(kinds.indexOf('SET')).toBeGreaterThan(kinds.indexOf('secure'));
    const cut = collect(fakeMeter({ slots: slotsOf(testsTold(3)) }), {
      line: (data, dir) => (dir === 'in' && /REC i=2 |END/.test(textOf(data)) ? undefined : data),
    });
    expect(sentOf(cut.effects).some((line) => line.startsWith('SET'))).toBe(false);
    expect(cut.effects.some((e) => e.kind === 'secure')).toBe(false);
  });

  it('is tried three times, and then left with both values kept', () => {
    const wrong = Array.from({ length: 3 }, () => ({ verb: 'SET', bodies: ['CLOCK t=2000-01-01T00:00:00'] }));
    const { outcome, download } = collect(fakeMeter({ instead: wrong }));
    expect(outcome).toEqual({ complete: true, clockSet: false });
    expect(download?.clock.filter((e) => e.kind === 'set').map((e) => e.outcome)).toEqual([
      'refused',
      'refused',
      'refused',
    ]);
  });

  it('may be refused by the meter without harm', () => {
    const { outcome, download } = collect(fakeMeter({ instead: [{ verb: 'SET', bodies: ['ERR e=unknown'] }] }));
    expect(outcome).toEqual({ complete: true, clockSet: false });
    expect(download?.clock[1]).toMatchObject({ kind: 'set', outcome: 'refused' });
  });

  it('of a meter that shows only minutes is right when the minute is right', () => {
    const clock = 'CLOCK t=2026-03-02T10:14';
    const meter = fakeMeter({ instead: [{ verb: 'SET', bodies: [clock] }] });
    expect(collect(meter).outcome.clockSet).toBe(true);
  });

  it('is not set on a meter that took the place of the one that was read', () => {
    const first = fakeMeter({ id: 'SN00001', slots: slotsOf(testsTold(2)) });
    const second = fakeMeter({ id: 'SN00002' });
    const { outcome, effects } = collect(first, {
      meterAt: (at) => (at - START < 4000 ? first : second),
      secureMs: 6000,
    });
    expect(outcome).toEqual({ complete: true, clockSet: false });
    expect(sentOf(effects).some((line) => line.startsWith('SET'))).toBe(false);
    expect(second.clockOffset).toBeUndefined();
  });
});

describe('a test that ends while the meter is docked', () => {
  const made = 'n=6 t=2026-03-02T10:14 k=p a=INR v=9.9 u={INR}';
  const push = (meter: FakeMeter): string[] => {
    meter.slots = slotsOf([made, ...meter.slots.values()]);
    return [`NEW i=1 ${made}`];
  };

  it('in the middle of READ has the memory told once more, and stands in it once', () => {
    const meter = fakeMeter({ slots: slotsOf(testsTold(5)), ...RIGHT });
    let isMade = false;
    meter.whileTelling = (_, position) => {
      if (isMade || position !== 3) return [];
      isMade = true;
      return push(meter);
    };
    const { outcome, effects, download, tests } = collect(meter);
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ', 'READ', 'BYE']);
    expect(tests.map((t) => t.runNumber)).toEqual([1, 2, 3, 4, 5, 6]);
    expect(download).toMatchObject({ complete: true, fresh: [] });
  });

  it('in the middle of READ, with the cable pulled before the second telling, is still there once', () => {
    for (const snapshot of [true, false]) {
      for (let cutAfter = 480; cutAfter < 900; cutAfter += 7) {
        const meter = fakeMeter({ slots: slotsOf(testsTold(5)), ...RIGHT });
        let isMade = false;
        meter.whileTelling = (_, position) => {
          if (isMade || position !== 3) return [];
          isMade = true;
          return snapshot ? [`NEW i=1 ${made}`] : push(meter);
        };
        const { download, tests } = collect(meter, { cutAfter });
        const all = [...tests, ...(download?.fresh ?? [])].map((t) => t.runNumber);
        expect(all.filter((n) => n === 6).length).toBeLessThanOrEqual(1);
        expect(new Set(all).size).toBe(all.length);
        expect([...all].sort((a = 0, b = 0) => a - b)).toEqual(all);
      }
    }
  });

  it('that ends after the reading of a docked meter comes with it; the meter is not sent to sleep', () => {
    const { outcome, effects, download } = collect(
      fakeMeter({ slots: slotsOf(testsTold(2)), ...RIGHT }),
      {},
      { ...OPTIONS, staysDocked: true },
    );
    expect(outcome).toEqual({ complete: true, clockSet: false });
    expect(download).toMatchObject({ complete: true, fresh: [] });
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ']);
  });
});

describe('a docked meter that was read before', () => {
  const MINUTE = 60_000;
  const watched = (held: number) => ({
    ...OPTIONS,
    staysDocked: true,
    watches: { identity: { id: 'SN00042', model: 'GM-10' }, held, everyMs: MINUTE },
  });
  const two = () => fakeMeter({ slots: slotsOf(testsTold(2)), ...RIGHT });
  const newTest = (n: number) =>
    encodeLine('NEW', { i: 1, n, t: '2026-03-02T10:15', k: 'p', a: 'INR', v: '2.0', u: '{INR}' });

  it('is only asked for its name, once a minute, until somebody stops', () => {
    const { outcome, effects } = collect(two(), { stopAfterMs: 5 * MINUTE + 1000 }, watched(2));
    expect(outcome).toEqual({ complete: false, clockSet: false });
    expect(sentOf(effects)).toEqual([...Array(6).fill('HELLO v=1'), 'BYE']);
    expect(new Set(progressOf(effects).map((p) => p.phase))).toEqual(new Set(['waking', 'waiting', 'leaving']));
  });

  it('is read as soon as it tells a new test', () => {
    const meter = two();
    const made = 'n=3 t=2026-03-02T10:15 k=p a=INR v=2.0 u={INR}';
    meter.whileTelling = (_verb, position) => {
      if (position === 1) meter.slots = slotsOf([made, ...testsTold(2)]);
      return [];
    };
    const { outcome, effects, download } = collect(
      meter,
      { unasked: [{ afterMs: 90_000, data: newTest(3) }] },
      watched(2),
    );
    expect(outcome.complete).toBe(true);
    expect(progressOf(effects).find((p) => p.test)).toMatchObject({ phase: 'reading', test: { runNumber: 3 } });
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'HELLO v=1', 'READ']);
    expect(download).toMatchObject({ complete: true });
  });

  it.each([
    ['holds another number of results', two(), watched(1)],
    ['is another meter', fakeMeter({ id: 'SN00043', slots: slotsOf(testsTold(2)), ...RIGHT }), watched(2)],
  ])('is read at once where it %s', (_what, meter, options) => {
    const { outcome, effects } = collect(meter, {}, options);
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ']);
  });

  it('is read where a new test came while its name was asked, whatever it holds', () => {
    const { outcome, effects } = collect(two(), { unasked: [{ afterMs: 1, data: newTest(3) }] }, watched(2));
    expect(outcome.complete).toBe(true);
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ']);
  });

  it('that is exchanged for another ends the conversation at the next question, with nothing read under its name', () => {
    const other = fakeMeter({ id: 'SN00043', slots: slotsOf(testsTold(9)), ...RIGHT });
    const meter = two();
    const { outcome, effects } = runTalk({
      talk: lineTalk(watched(2)),
      meterAt: (at) => (at < START + 90_000 ? meter : other),
    });
    expect(outcome).toEqual({ complete: false, clockSet: false });
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'HELLO v=1', 'HELLO v=1']);
  });

  it('that is taken away is missed at the next question', () => {
    const meter = two();
    const { outcome } = runTalk({
      talk: lineTalk(watched(2)),
      meterAt: (at) => (at < START + 90_000 ? meter : undefined),
    });
    expect(outcome).toMatchObject({ complete: false, trouble: { code: 'METER_SILENT' } });
  });

  it('that never stops sending is left', () => {
    const unasked = [{ afterMs: 30_000, data: Buffer.from('\n#'.repeat(2000)) }];
    const { outcome } = collect(two(), { unasked }, watched(2));
    expect(outcome.trouble).toMatchObject({ code: 'METER_ENDLESS' });
  });
});

describe('a conversation that breaks off', () => {
  it('at any byte keeps what came whole, and never more', () => {
    const meter = (): FakeMeter => fakeMeter({ slots: slotsOf(testsTold(4)) });
    const whole = collect(meter());
    const total = whole.capture.chunks.filter((c) => c.dir === 'in').reduce((n, c) => n + c.data.length, 0);
    const proof = whole.capture.chunks
      .filter((c) => c.dir === 'in')
      .slice(0, 6)
      .reduce((n, c) => n + c.data.length, 0);
    for (let cutAfter = 0; cutAfter <= total; cutAfter++) {
      const { outcome, download, tests } = collect(meter(), { cutAfter });
      expect(outcome.complete).toBe(cutAfter >= proof);
      expect(download?.complete ?? false).toBe(cutAfter >= proof);
      expect(tests.map((t) => t.runNumber)).toEqual([1, 2, 3, 4].slice(4 - tests.length));
      if (!outcome.complete) {
        expect(outcome.trouble?.code).toBe(
          cutAfter === 0 ? 'METER_SILENT' : download ? 'DOWNLOAD_CUT' : 'METER_GARBLED',
        );
        if (download && tests.length < 4) expect(download.image[0]).toEqual({ kind: 'hole', atMost: 4 - tests.length });
      }
    }
  });

  it('when it is stopped says BYE and keeps what it has', () => {
    const { outcome, effects, download } = collect(fakeMeter({ cap: 200, slots: slotsOf(testsTold(200)) }), {
      stopAfterMs: 5000,
    });
    expect(outcome.trouble?.code).toBe('DOWNLOAD_CUT');
    expect(sentOf(effects)).toEqual(['HELLO v=1', 'READ', 'BYE']);
    expect(download).toMatchObject({ complete: false, cut: 'aborted' });
    expect(download?.image.length).toBeGreaterThan(20);
  });

  it('does nothing more once it has ended', () => {
    const talk = lineTalk(OPTIONS);
    const ended = talk.step(talk.initial, { kind: 'closed', at: START });
    expect(ended.effects.at(-1)?.kind).toBe('end');
    expect(talk.step(ended.state, { kind: 'bytes', at: START, data: bytesOf('BYE*1317\r\n') }).effects).toEqual([]);
    expect(talk.step(ended.state, { kind: 'timer', at: START }).effects).toEqual([]);
  });

  it('never takes the results of one meter for those of another that took its place', () => {
    const told = testsTold(20);
    for (let swapMs = 150; swapMs < 3200; swapMs += 90) {
      const first = fakeMeter({ id: 'SN00001', slots: slotsOf(told.map((t) => t.replace('lot=1200003', 'lot=1'))) });
      const second = fakeMeter({ id: 'SN00002', slots: slotsOf(told.map((t) => t.replace('lot=1200003', 'lot=2'))) });
      const { outcome, downloads } = collect(first, { meterAt: (at) => (at - START < swapMs ? first : second) });
      for (const download of downloads) {
        const lots = new Set(download.image.flatMap((item) => (item.kind === 'test' ? [item.test.lot] : [])));
        expect([...lots].every((lot) => lot === (download.meter.id === 'SN00001' ? '1' : '2'))).toBe(true);
      }
      if (downloads[0]?.complete === false) expect(outcome.complete).toBe(false);
    }
  });
});
