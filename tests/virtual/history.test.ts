/** Generated lives: the same for the same seed, and true to the bytes that come with them. Read with tiny readers of the test's own. */
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { generateHistory, type History, type TrueTest, truthJson } from '../../src/virtual/history.ts';
import { WORLDS } from '../../src/virtual/life.ts';
import { seedOr } from '../support/seed.ts';
import { readRecords, readTests, type TinyTest } from '../support/tiny-astm.ts';
import { readTlp, slowCrc } from '../support/tiny-tlp.ts';

const SEED = seedOr(20260302);
const MANY = 25;

const fromMeter = (capture: Capture): Buffer =>
  Buffer.concat(capture.chunks.filter(({ dir }) => dir === 'in').map(({ data }) => data));

/** What a download told of a test, in one form for both protocols. */
interface Told {
  readonly slot: number;
  readonly run: number | undefined;
  readonly facts: string;
}

const values = (list: readonly { analyte: string; value: string; unit: string }[]): string =>
  list.map(({ analyte, value, unit }) => `${analyte}=${value}${unit}`).join(' ');

function toldByLine(capture: Capture): Told[] {
  const lines = readTlp(fromMeter(capture)).filter(({ verb }) => verb === 'REC');
  return lines.map(({ keys }) => {
    const list = ['', '2', '3', '4']
      .filter((n) => keys[`a${n}`])
      .map((n) => ({ analyte: keys[`a${n}`] ?? '', value: keys[`v${n}`] ?? '', unit: keys[`u${n}`] ?? '' }));
    const facts = [keys['k'], keys['t'], values(list), keys['e'], keys['lot'], keys['exp'], keys['pid'], keys['op']];
    return { slot: Number(keys['i']), run: keys['n'] ? Number(keys['n']) : undefined, facts: facts.join('/') };
  });
}

const KINDS = { patient: 'p', control: 'c', error: 'e' } as const;

const trueByLine = (test: TrueTest): string =>
  [
    KINDS[test.kind],
    test.stamp,
    values(test.values),
    test.errorCode,
    test.lot,
    test.lotExpiry,
    test.patientId,
    test.operator,
  ].join('/');

const compact = (text: string | undefined): string => (text ?? '').replace(/[-T:]/g, '');

const toldByAstm = (test: TinyTest): Told => ({
  slot: Number(test.slot),
  run: test.runNumber ? Number(test.runNumber) : undefined,
  facts: [test.isControl, test.time, values(test.values), test.errorCode, test.lot, test.expiry, test.patientId].join(
    '/',
  ),
});

const trueByAstm = (test: TrueTest): string =>
  [
    test.kind === 'control',
    compact(test.stamp),
    values(test.values),
    test.errorCode,
    test.lot,
    test.lotExpiry && compact(test.lotExpiry),
    test.patientId ?? '',
  ].join('/');

/** What download number `i` told, oldest test first; in a cut E1394 download the last test may be a torn one. */
function told(history: History, i: number): Told[] {
  const capture = history.captures[i];
  if (!capture) throw new Error(`no capture ${i}`);
  const list =
    history.protocol === 'line' ? toldByLine(capture) : readTests(readRecords(fromMeter(capture))).map(toldByAstm);
  return history.meter.memory.order === 'newest' ? list.reverse() : list;
}

function checkAgainstBytes(history: History): void {
  history.downloads.forEach((download, i) => {
    const wholly = history.tests.filter(({ toldIn }) => toldIn.includes(i));
    const torn = history.tests.filter(({ brokenIn }) => brokenIn.includes(i));
    expect(torn.length).toBeLessThanOrEqual(download.isComplete ? 0 : 1);
    const facts = (test: TrueTest): string => (history.protocol === 'line' ? trueByLine(test) : trueByAstm(test));
    // A ring tells by slots: the order of the tests is not that of the lines.
    const said = told(history, i).map((one) => one.facts);
    const whole = wholly.map(facts);
    if (history.protocol === 'astm' && torn.length > 0) {
      expect(said.filter((one) => whole.includes(one)).sort()).toEqual(whole.sort());
      expect(said.length - whole.length).toBeLessThanOrEqual(1);
    } else if (history.meter.memory.order === 'ring') expect(said.sort()).toEqual(whole.sort());
    else expect(said).toEqual(whole);
    if (download.isComplete) expect(wholly).toHaveLength(download.held);
    else expect(wholly.length).toBeLessThanOrEqual(download.held);
  });
}

describe(`a generated life (SEED=${SEED})`, () => {
  it.each(WORLDS)('is the same, byte for byte, for the same seed, and another for another (%s)', (world) => {
    const life = (seed: number): string => {
      const history = generateHistory({ seed, world });
      const bytes = history.captures.map((c) => c.chunks.map((k) => Buffer.from(k.data).toString('base64')));
      return JSON.stringify([truthJson(history), bytes]);
    };
    expect(life(SEED)).toBe(life(SEED));
    expect(life(SEED)).not.toBe(life(SEED + 1));
  });

  it.each(WORLDS)('tells in its bytes what its truth says that it told (%s)', (world) => {
    for (let seed = SEED; seed < SEED + MANY; seed++) checkAgainstBytes(generateHistory({ seed, world, use: 'home' }));
  });

  it('proves every whole TLP/1 download by its END line', () => {
    for (let seed = SEED; seed < SEED + MANY; seed++) {
      const history = generateHistory({ seed, world: 'mixed', protocol: 'line', use: 'home' });
      history.captures.forEach((capture, i) => {
        const lines = readTlp(fromMeter(capture));
        const end = lines.find(({ verb }) => verb === 'END');
        expect(end !== undefined).toBe(history.downloads[i]?.isComplete);
        const bodies = lines.filter(({ verb }) => verb === 'REC').map(({ body }) => `${body}\n`);
        if (end) expect(end.keys).toEqual({ n: String(bodies.length), x: slowCrc(bodies.join('')) });
      });
    }
  });

  it('stamps every test with what the clock showed: true time, drift, and what was done to the clock', () => {
    const wrong: unknown[] = [];
    for (let seed = SEED; seed < SEED + MANY; seed++) {
      const history = generateHistory({ seed, world: 'mixed', use: 'home' });
      let [from, shows] = [Number.NaN, Number.NaN];
      const events = [...history.clockEvents];
      for (const test of history.tests) {
        for (let next = events[0]; next && next.at <= test.at; next = events[0]) {
          [from, shows] = [next.at, next.shows ?? Number.NaN];
          events.shift();
        }
        const stamp = Date.parse(`${test.stamp.padEnd(19, ':00')}Z`);
        const wanted = shows + (test.at - from);
        // 75 ppm at most, and digits are cut off.
        const drift = 75e-6 * (test.at - from);
        const isRight = stamp > wanted - drift - history.meter.stampResolutionMs && stamp <= wanted + drift;
        if (!isRight) wrong.push({ seed, test });
      }
    }
    expect(wrong).toEqual([]);
  });

  it('shows in each TLP/1 greeting the clock that the truth knows, between asking and answering', () => {
    let seen = 0;
    for (let seed = SEED; seed < SEED + MANY; seed++) {
      const history = generateHistory({ seed, world: 'drift-only', protocol: 'line', use: 'home', setsClock: 'never' });
      const { at: from = Number.NaN, shows = Number.NaN } = history.clockEvents[0] ?? {};
      for (const capture of history.captures) {
        const clock = readTlp(fromMeter(capture)).find(({ verb }) => verb === 'METER')?.keys['clock'] ?? '';
        const answered = capture.chunks.find(({ dir }) => dir === 'in')?.at ?? Number.NaN;
        const shown = Date.parse(`${clock.padEnd(19, ':00')}Z`);
        const drift = 75e-6 * (answered - from);
        expect(shown).toBeLessThanOrEqual(shows + (answered - from) + drift);
        expect(shown).toBeGreaterThan(shows + (capture.openedAt - from) - drift - history.meter.clockResolutionMs);
        seen++;
      }
    }
    expect(seen).toBeGreaterThan(MANY * 5);
  });

  it('has captures whose times never go back, and reads that are no longer than the line lets them be', () => {
    for (let seed = SEED; seed < SEED + MANY; seed++) {
      for (const { openedAt, closedAt, chunks } of generateHistory({ seed, world: 'mixed', use: 'home' }).captures) {
        const times = [openedAt, ...chunks.map(({ at }) => at), closedAt ?? chunks.at(-1)?.at ?? openedAt];
        expect(times.filter((at, i) => at < (times[i - 1] ?? 0))).toEqual([]);
        const bytes = chunks.reduce((sum, { data }) => sum + data.length, 0);
        // 10 bits a byte at 9600 baud, both ways, half duplex; the last question may be cut off behind its beginning.
        const lastOut = chunks.at(-1)?.dir === 'out' ? (chunks.at(-1)?.data.length ?? 0) : 0;
        expect((times.at(-1) ?? 0) - openedAt).toBeGreaterThanOrEqual(((bytes - 4 * lastOut) * 10_000) / 9600 - 1);
      }
    }
  });

  it('counts exactly the tests that were overwritten before anybody read them whole', () => {
    for (let seed = SEED; seed < SEED + MANY; seed++) {
      const history = generateHistory({ seed, world: 'loss', capacity: 12, use: 'home' });
      const unread = history.tests.filter(({ toldIn }) => toldIn.length === 0).length;
      const counted = history.downloads.reduce((sum, { overwrittenUnread }) => sum + overwrittenUnread, 0);
      const after = history.tests.filter(({ at }) => at > (history.downloads.at(-1)?.at ?? 0)).length;
      // What was made after the last visit is unread too, whether or not it is still there.
      expect(unread - counted).toBe(after);
    }
  });

  it('has in each world what the world is about, in zones from all over', () => {
    const of = (world: (typeof WORLDS)[number], count: number, protocol?: 'line'): History[] =>
      Array.from({ length: count }, (_, i) =>
        generateHistory({ seed: SEED + i, world, use: 'home', ...(protocol ? { protocol } : {}) }),
      );
    const kinds = (list: History[]): Set<string> => new Set(list.flatMap((h) => h.clockEvents.map(({ kind }) => kind)));
    const drift = of('drift-only', 60);
    // The one setting by hand is that before the first test.
    expect(kinds(drift)).toEqual(new Set(['hand-setting', 'gateway-setting']));
    expect(new Set(drift.map(({ zone }) => zone)).size).toBeGreaterThan(15);
    expect(new Set(drift.map(({ protocol, meter }) => `${protocol} ${meter.memory.order}`)).size).toBe(5);
    expect(kinds(of('loss', 20, 'line'))).toEqual(new Set(['hand-setting', 'gateway-setting', 'power-loss']));
    const human = of('human', 60, 'line');
    expect(kinds(human)).toEqual(new Set(['gateway-setting', 'power-loss', 'hand-setting']));
    expect(new Set(human.flatMap((h) => h.clockEvents.flatMap(({ how }) => how ?? [])))).toEqual(
      new Set(['right', 'hour', 'twelve-hours', 'day-month', 'year', 'summer-time']),
    );
    const mixed = of('mixed', 100, 'line');
    expect(mixed.flatMap(({ deletions }) => deletions.map(({ kind }) => kind))).toEqual(
      expect.arrayContaining(['delete-one', 'delete-all', 'factory-reset']),
    );
    const cut = mixed.flatMap(({ downloads }) => downloads).filter(({ isComplete }) => !isComplete).length;
    const all = mixed.flatMap(({ downloads }) => downloads).length;
    expect(cut / all).toBeGreaterThan(0.1);
    expect(cut / all).toBeLessThan(0.2);
    const tests = [...drift, ...human].map((h) => h.tests.length);
    const mean = tests.reduce((a, b) => a + b, 0) / tests.length;
    expect(mean).toBeGreaterThan(58);
    expect(mean).toBeLessThan(70);
  });

  it('knows shared meters with many tests a day', () => {
    const history = generateHistory({ seed: SEED, world: 'mixed', use: 'shared', days: 60 });
    expect(history.tests.length).toBeGreaterThan(150);
    expect(new Set(history.tests.map(({ patientId }) => patientId)).size).toBeGreaterThan(15);
    checkAgainstBytes(history);
  });
});
