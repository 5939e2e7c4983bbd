/** The PC's own clock is changed while a meter is read: noticed, kept with the bytes, and no time is claimed too surely. */
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { type CollectRequest, collectPort } from '../../src/intake/collect.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { openRecorder } from '../../src/intake/recorder.ts';
import { recoverAbandoned } from '../../src/intake/recover.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { fingerprint } from '../../src/store/capture-pack.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { NO_FAULTS } from '../../src/virtual/faults.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { virtualPort } from '../../src/virtual/port.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';
import { formatCapture, parseCapture } from '../../src/wire/capture-file.ts';
import { decodeCapture } from '../../src/wire/decode.ts';
import { tempStore } from '../store/temp-store.ts';
import { countedLink } from '../support/counted-link.ts';
import { judgeHistory } from '../support/judge-history.ts';
import { meterWith, realNow } from '../support/meters.ts';
import { captureOf, lifeOf, stampAt } from './told-meter.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const AT = instant(Date.UTC(2026, 2, 2, 10, 0, 0));

/** A capture of three tests; `at` is what the PC believed. */
const told = (at: Instant): Capture =>
  captureOf({ at, tests: [1, 2, 3].map((n) => ({ stamp: stampAt(AT - n * 86_400_000), inr: `2.${n}` })).reverse() });

describe('a step that was noticed', () => {
  const stepped: Capture = { ...told(AT), clockStepS: -3600.5 };

  it('goes into the capture file and comes back, from the first line or from the last', () => {
    const text = formatCapture(stepped);
    expect(text.split('\n')[0]).toContain('"clockStepS":-3600.5}');
    expect(parseCapture(text, 'x')).toEqual(parseCapture(formatCapture(stepped), 'x'));
    expect(parseCapture(text, 'x').clockStepS).toBe(-3600.5);
    const late = formatCapture(told(AT)).replace('{"closedAt":', '{"clockStepS":-3600.5,"closedAt":');
    expect(parseCapture(late, 'x')).toEqual(parseCapture(text, 'x'));
    expect(() => parseCapture(text.replace('-3600.5', '0'), 'x')).toThrow(/line 1: "clockStepS": must not be 0/);
  });

  it('stays with the bytes in the store, in what is exported, and in the fingerprint of both', () => {
    const store = tempStore();
    const first = replayCapture(store, stepped, profiles, context);
    const { capture } = store.captures.load(first.captureNo);
    expect(capture.clockStepS).toBe(-3600.5);
    expect(replayCapture(store, parseCapture(formatCapture(capture), 'x'), profiles, context).already).toBe(true);
    expect(fingerprint(stepped)).not.toBe(fingerprint(told(AT)));
    expect(rebuild(store, profiles, context, { accept: false }).differences).toEqual([]);
  });

  it('widens what rests on the times to both sides, and nothing else', () => {
    const profile = profiles.get('tlp-generic');
    const [plain] = decodeCapture(told(AT), profile);
    const [wide] = decodeCapture(stepped, profile);
    if (!plain || !wide) throw new Error('the capture holds no download');
    const by = 3_600_500;
    expect(wide.clock).toEqual(plain.clock.map((e) => ({ ...e, from: e.from - by, to: e.to + by })));
    expect(wide.until).toBe(plain.until + by);
    expect({ ...wide, clock: plain.clock, until: plain.until }).toEqual(plain);
  });

  it('is kept even where the program died before the end', () => {
    const store = tempStore();
    const { chunks, closedAt: _closed, ...header } = told(AT);
    const recorder = openRecorder(store, header);
    for (const chunk of chunks) recorder.record(chunk);
    recorder.noteClockStep(7200);
    recorder.secure();
    // The process that owned it is gone: its number belongs to nobody.
    store.db.script('UPDATE capture SET owner_pid = 0');
    const [left] = recoverAbandoned(store, profiles, context);
    expect(left).toMatchObject({ captureNo: recorder.captureNo, taken: { already: false } });
    expect(store.captures.load(recorder.captureNo).capture.clockStepS).toBe(7200);
  });
});

describe('a meter that is read while somebody sets the PC’s clock', () => {
  const request: CollectRequest = { port: 'A', profile: profiles.get('tlp-generic'), zone: 'UTC', setClock: 'always' };

  /** Reads a meter of 12 tests; the PC's clock is put forward by `stepMs` after so many chunks. */
  async function readWhile(stepMs: number, afterChunks: number) {
    const store = tempStore();
    const meter = meterWith({ tests: 12 });
    const port = virtualPort(lineSpeaker(), meter, NO_FAULTS, chanceFrom(1), realNow);
    const { open, heard, sent } = countedLink(port);
    const collected = await collectPort(request, {
      store,
      profiles,
      context,
      open,
      now: () => instant(Date.now() + (heard() >= afterChunks ? stepMs : 0)),
      monotonicMs: () => performance.now(),
    });
    return { store, collected, sent };
  }

  it('is read whole, says so, keeps its own clock, and its bytes know of the step', async () => {
    const { store, collected, sent } = await readWhile(-3_600_000, 2);
    expect(collected.downloads).toMatchObject([{ complete: true, new: 12, clockSet: false }]);
    expect(collected.fault).toMatchObject({ code: 'CLOCK_STEPPED', exitCode: 1 });
    expect(sent).not.toContain('SET ');
    const { capture } = store.captures.load(1);
    expect(Math.abs((capture.clockStepS ?? 0) + 3600)).toBeLessThan(1);
    for (const [i, { at }] of capture.chunks.entries())
      expect(at).toBeGreaterThanOrEqual(capture.chunks[i - 1]?.at ?? capture.openedAt);
  });

  it('is nothing special where nobody does', async () => {
    const { store, collected, sent } = await readWhile(0, 2);
    expect(collected.fault).toBeUndefined();
    expect(sent).toContain('SET ');
    expect(store.captures.load(1).capture).not.toHaveProperty('clockStepS');
  });
});

describe('times that rest on a PC whose clock was wrong when the port was opened', () => {
  /** The captures of a life, one of them with times that are all wrong by `byMs`; `isNoticed`: the step was seen. */
  const spoiled = (captures: readonly Capture[], which: number, byMs: number, isNoticed: boolean): Capture[] =>
    captures.map((capture, i) => {
      if (i !== which) return capture;
      const { openedAt, chunks, closedAt, ...rest } = capture;
      const moved = (at: Instant): Instant => instant(at + byMs);
      return {
        ...rest,
        openedAt: moved(openedAt),
        ...(isNoticed ? { clockStepS: -byMs / 1000 } : {}),
        chunks: chunks.map((chunk) => ({ ...chunk, at: moved(chunk.at) })),
        ...(closedAt === undefined ? {} : { closedAt: moved(closedAt) }),
      };
    });

  it(`lie inside their bounds as often as if it had been right, and without the note they would not (SEED=${SEED})`, () => {
    const outside = { right: 0, noticed: 0, unnoticed: 0 };
    let lost = 0;
    for (let n = 0; n < 12; n++) {
      const history = generateHistory({ seed: SEED + n, world: 'drift-only', zone: 'Europe/Lisbon', use: 'home' });
      // Before the first download nothing else tells what time it was; later ones the neighbours contradict.
      const which = n % 2 === 0 ? 0 : Math.floor(history.captures.length / 2);
      const byMs = (n % 4 < 2 ? 1 : -1) * (n % 3 === 0 ? 7 : 3600) * 1000;
      const judge = (captures: readonly Capture[]): number => {
        const judged = judgeHistory({ ...history, captures }, profiles, true);
        lost += judged.lost.length + judged.surplus.length;
        return judged.times.filter((time) => time.outside > 0).length;
      };
      outside.right += judge(history.captures);
      outside.noticed += judge(spoiled(history.captures, which, byMs, true));
      outside.unnoticed += judge(spoiled(history.captures, which, byMs, false));
    }
    expect(lost).toBe(0);
    expect(outside.noticed).toBeLessThanOrEqual(outside.right);
    expect(outside.unnoticed).toBeGreaterThan(outside.right);
  });

  it(`lose no test and double none, in lives with everything that goes wrong (SEED=${SEED})`, () => {
    for (let n = 0; n < 8; n++) {
      const history = generateHistory({ seed: SEED + 100 + n, world: 'mixed', zone: 'Europe/Lisbon', use: 'home' });
      const before = judgeHistory(history, profiles, false);
      const captures = spoiled(history.captures, Math.floor(history.captures.length / 2), 3_600_000, true);
      const judged = judgeHistory({ ...history, captures }, profiles, false);
      expect(judged.lost.length).toBeLessThanOrEqual(before.lost.length);
      expect(judged.surplus.length).toBeLessThanOrEqual(before.surplus.length);
    }
  });
});

describe('a capture without a step', () => {
  it('has the fingerprint that it always had', () => {
    const [capture] = lifeOf(1, 1, { runs: false }).captures;
    expect(capture && fingerprint(capture)).toBe(capture && fingerprint(parseCapture(formatCapture(capture), 'x')));
    expect(capture && formatCapture(capture)).not.toContain('clockStepS');
  });
});
