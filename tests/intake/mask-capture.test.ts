/** Masked captures: the same readings, other names, and no trace of the old ones. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import type { Download } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import { maskCapture } from '../../src/intake/mask-capture.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { makePseudonyms } from '../../src/intake/pseudonyms.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { encodeMessage } from '../../src/wire/astm/frame-writer.ts';
import { createFrameDecoder } from '../../src/wire/astm/link-frames.ts';
import { decodeCapture } from '../../src/wire/decode.ts';
import { encodeBody, frameBody } from '../../src/wire/line/codec.ts';
import { crcHex } from '../../src/wire/line/crc16.ts';
import { claimOf } from '../../src/wire/line/proof.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const KEY = new Uint8Array(32).fill(7);
const AT = instant(Date.UTC(2026, 2, 2, 10, 0, 0));

const testsOf = (downloads: readonly Download[]): TestRecord[] =>
  downloads.flatMap(({ image, fresh }) => [
    ...image.flatMap((item) => (item.kind === 'test' ? [item.test] : [])),
    ...fresh,
  ]);

/** Downloads with every name replaced by the fact that there is one. */
const nameless = (downloads: readonly Download[]): unknown =>
  JSON.parse(
    JSON.stringify(downloads, (key, value) => (key === 'patientId' || key === 'operator' ? typeof value : value)),
  );

/** Masks and compares: everything but the names is as before. Gives the names before and after, in pairs. */
function maskAndCompare(capture: Capture): { before: string; after: string; kind: string }[] {
  const profile = profiles.get(capture.profile);
  const masked = maskCapture(capture, profile, makePseudonyms(KEY));
  expect(masked.chunks.map((c) => [c.at, c.dir, c.data.length])).toEqual(
    capture.chunks.map((c) => [c.at, c.dir, c.data.length]),
  );
  const [before, after] = [decodeCapture(capture, profile), decodeCapture(masked, profile)];
  expect(nameless(after)).toEqual(nameless(before));
  const told = testsOf(after);
  return testsOf(before).flatMap((test, i) =>
    (['patientId', 'operator'] as const).flatMap((kind) => {
      const [was, is] = [test[kind], told[i]?.[kind]];
      return was === undefined || is === undefined ? [] : [{ before: was, after: is, kind }];
    }),
  );
}

/** A name has one pseudonym and a pseudonym one name. */
function expectOneToOne(pairs: readonly { before: string; after: string; kind: string }[]): void {
  for (const kind of ['patientId', 'operator']) {
    const mine = pairs.filter((pair) => pair.kind === kind);
    const forth = new Map(mine.map(({ before, after }) => [before, after]));
    const back = new Map(mine.map(({ before, after }) => [after, before]));
    for (const { before, after } of mine) {
      expect(forth.get(before)).toBe(after);
      expect(back.get(after)).toBe(before);
    }
  }
}

const bytesOf = (capture: Capture): string =>
  Buffer.concat(capture.chunks.filter((c) => c.dir === 'in').map((c) => c.data)).toString('latin1');

/** A capture of what a meter said, in pieces as given. */
const heard = (profile: string, pieces: readonly Uint8Array[]): Capture => ({
  port: 'A',
  profile,
  zone: 'UTC',
  openedAt: AT,
  chunks: pieces.map((data, i) => ({ at: instant(AT + 60 * (i + 1)), dir: 'in', data })),
  closedAt: instant(AT + 100_000),
});

const shared = (protocol: 'line' | 'astm', seed: number) =>
  generateHistory({ seed, world: 'mixed', protocol, use: 'shared', zone: 'Europe/Lisbon', days: 60 });

describe.each(['line', 'astm'] as const)('masking what a shared meter said over %s', (protocol) => {
  it(`leaves every reading as it was but for the names, which are gone (SEED=${SEED})`, () => {
    let names = 0;
    for (let n = 0; n < 10; n++) {
      const { captures } = shared(protocol, SEED + n);
      for (const capture of captures.slice(-4)) {
        const pairs = maskAndCompare(capture);
        expectOneToOne(pairs);
        names += pairs.length;
        const text = bytesOf(maskCapture(capture, profiles.get(capture.profile), makePseudonyms(KEY)));
        for (const { before, after } of pairs) {
          expect(after).toHaveLength(before.length);
          expect(after).not.toBe(before);
          if (before.length >= 5) expect(text).not.toContain(before);
        }
      }
    }
    expect(names).toBeGreaterThan(500);
  });

  it(`leaves a damaged stream as damaged as it was, whichever bytes were hit (SEED=${SEED})`, () => {
    const captures = [0, 1, 2].flatMap((n) => shared(protocol, SEED + 50 + n).captures.slice(-2));
    const hits = fc.array(fc.record({ where: fc.nat(), what: fc.nat(255) }), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(fc.nat(captures.length - 1), hits, (which, all) => {
        const capture = captures[which] as Capture;
        const chunks = capture.chunks.map((chunk) => ({ ...chunk, data: Uint8Array.from(chunk.data) }));
        const mine = chunks.filter((chunk) => chunk.dir === 'in' && chunk.data.length > 0);
        for (const { where, what } of all) {
          const chunk = mine[where % mine.length];
          if (chunk) chunk.data[(where >> 8) % chunk.data.length] = what;
        }
        maskAndCompare({ ...capture, chunks });
      }),
      { seed: SEED, numRuns: 150 },
    );
  });

  it(`leaves a stream that breaks off anywhere, or lost some bytes, as it was (SEED=${SEED})`, () => {
    const [capture] = shared(protocol, SEED + 60).captures.slice(-1);
    if (!capture) throw new Error('the life has no visit');
    const chance = chanceFrom(SEED);
    const stream = Buffer.concat(capture.chunks.filter((c) => c.dir === 'in').map((c) => c.data));
    for (let n = 0; n < 60; n++) {
      const from = chance.whole(0, stream.length - 1);
      const gap = chance.whole(0, 40);
      const pieces = n % 2 === 0 ? [stream.subarray(0, from)] : [stream.subarray(0, from), stream.subarray(from + gap)];
      maskAndCompare(heard(capture.profile, pieces));
    }
  });
});

describe('masking lines', () => {
  const rec = (slot: number, more: Record<string, string>): string =>
    encodeBody('REC', { i: slot, t: '2026-03-01T10:00', k: 'p', a: 'INR', v: '2.6', u: '{INR}', ...more });
  const meter = 'METER v=1 id=PA00042 model=GM-10 cap=9 held=3 order=newest clock=2026-03-02T10:00:00';
  const send = (...bodies: string[]): Uint8Array[] => bodies.map(frameBody);
  const end = (bodies: readonly string[]): string => `END n=${bodies.length} x=${crcHex(claimOf(bodies).crc)}`;
  const bodies = [
    rec(1, { pid: 'Ana Flores', op: 'rosa' }),
    rec(2, { pid: 'ÉLISE', op: 'rosa' }),
    rec(3, { pid: '7' }),
  ];

  it('makes every check anew, also where a value was escaped', () => {
    const capture = heard('tlp-generic', send(meter, ...bodies, end(bodies)));
    expect(decodeCapture(capture, profiles.get('tlp-generic'))[0]?.complete).toBe(true);
    const pairs = maskAndCompare(capture);
    expect(pairs).toHaveLength(5);
    expectOneToOne(pairs);
  });

  it('keeps the proof of an answer whose damaged line was fetched again later', () => {
    const broken = frameBody(bodies[1] ?? '');
    broken[20] = (broken[20] ?? 0) ^ 1;
    const out = (body: string, n: number) => ({ at: instant(AT + n), dir: 'out' as const, data: frameBody(body) });
    const pieces = [...send(meter, bodies[0] ?? ''), broken, ...send(bodies[2] ?? '', end(bodies))];
    const first = heard('tlp-generic', pieces);
    const again = heard('tlp-generic', send(bodies[1] ?? '', end(bodies.slice(1, 2))));
    const capture: Capture = {
      ...first,
      chunks: [
        ...first.chunks.slice(0, 1),
        out('READ', 70),
        ...first.chunks.slice(1),
        out('READ from=2 to=2', 400),
        ...again.chunks.map((chunk) => ({ ...chunk, at: instant(chunk.at + 500) })),
      ],
    };
    const [download] = decodeCapture(capture, profiles.get('tlp-generic'));
    expect(download).toMatchObject({ complete: true, stats: { damagedLines: 1 } });
    expect(maskAndCompare(capture)).toHaveLength(5);
    const masked = maskCapture(capture, profiles.get('tlp-generic'), makePseudonyms(KEY));
    expect(bytesOf(masked)).not.toMatch(/Ana|LISE|rosa/);
  });

  it('makes unreadable what it cannot understand', () => {
    const odd = ['REC i=1 op=Rosa Amado', 'NEW pid=Ana pid=Ana', 'REC i=2 t=x k=p pid=AnaFlores'];
    const capture = heard('tlp-generic', [...send(meter, ...odd), Buffer.from('REC i=9 pid=AnaFlores')]);
    maskAndCompare(capture);
    const masked = maskCapture(capture, profiles.get('tlp-generic'), makePseudonyms(KEY));
    expect(bytesOf(masked)).not.toMatch(/Ana|Rosa|Amado|Flores/);
  });
});

describe('masking E1394 records', () => {
  const records = [
    'H|\\^&|||GM-10^PA00042^1.0|||||||P||20260302100000',
    'P|1||ALDER-017^X|ALT-9|Flores^Ana^Maria||19480612|F',
    'O|1|1^210||^^^INR|||||||||||CAP',
    'R|1|^^^INR|2.6|{INR}||N||F||rosa&F&amado|20260301100000|20260301100000',
    'L|1|N',
  ];
  const capture = (maxText: number): Capture =>
    heard('astm-generic-newest', [Uint8Array.of(5), ...encodeMessage(records, maxText), Uint8Array.of(4)]);

  it.each([240, 12, 1])(
    'finds names that are cut into frames of %i characters, and blanks the rest of P',
    (maxText) => {
      const pairs = maskAndCompare(capture(maxText));
      expect(pairs.map(({ kind }) => kind)).toEqual(['patientId', 'operator']);
      const masked = maskCapture(capture(maxText), profiles.get('astm-generic-newest'), makePseudonyms(KEY));
      const text = createFrameDecoder()
        .push(Buffer.from(bytesOf(masked), 'latin1'))
        .map((event) => (event.kind === 'frame' ? event.text : ''))
        .join('');
      expect(text).not.toMatch(/ALDER|ALT-9|Flores|Ana|Maria|1948|rosa|amado/);
      expect(text).toContain('P|1||');
      expect(text).toContain('|2.6|{INR}|');
    },
  );

  it('masks a frame that is sent again like the first time', () => {
    const frames = encodeMessage(records, 12);
    const twice = frames.flatMap((frame, i) => (i % 3 === 0 ? [frame, frame] : [frame]));
    expect(maskAndCompare(heard('astm-generic-newest', [Uint8Array.of(5), ...twice, Uint8Array.of(4)]))).toHaveLength(
      2,
    );
  });
});

describe('a pseudonym', () => {
  it('is the same for the same text, another for another and for another role, and needs the key', () => {
    const names = makePseudonyms(KEY);
    expect(names.of('patient', 'ALDER-017')).toBe(names.of('patient', 'ALDER-017'));
    expect(names.of('patient', 'ALDER-017')).not.toBe(names.of('patient', 'ALDER-018'));
    expect(names.of('patient', 'ALDER-017')).not.toBe(names.of('operator', 'ALDER-017'));
    const others = makePseudonyms(new Uint8Array(32));
    expect(others.of('patient', 'ALDER-017')).not.toBe(names.of('patient', 'ALDER-017'));
  });

  it('never stands for two of a thousand short ids', () => {
    const names = makePseudonyms(KEY);
    const made = Array.from({ length: 1000 }, (_, i) => names.of('patient', String(i).padStart(3, '0')));
    expect(new Set(made).size).toBe(1000);
    for (const [i, each] of made.entries()) expect(each).not.toBe(String(i).padStart(3, '0'));
  });
});
