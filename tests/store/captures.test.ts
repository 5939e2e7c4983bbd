import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { CaptureChunk } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { fingerprint, packChunks, unpackChunks } from '../../src/store/capture-pack.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { tempStore } from './temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const header = { port: 'tcp://10.0.0.7:4001', profile: 'tlp-generic', zone: 'Europe/Lisbon', openedAt: instant(1_000) };
const owner = { pid: 1, start: 'long ago' };
const chunk = (at: number, dir: 'in' | 'out', text: string): CaptureChunk => ({
  at: instant(at),
  dir,
  data: new TextEncoder().encode(text),
});
const chunks = fc.array(
  fc.record({
    at: fc.integer({ min: 0, max: 4e12 }).map(instant),
    dir: fc.constantFrom('in' as const, 'out' as const),
    data: fc.uint8Array({ maxLength: 300 }),
  }),
);

describe('captures in the store', () => {
  it('gives back every chunk as it was recorded, while open and when sealed', () => {
    const { captures } = tempStore();
    const no = captures.open(header, owner);
    const said = [chunk(1_001, 'out', 'HELLO v=1*4282\r\n'), chunk(1_050, 'in', 'MET'), chunk(1_051, 'in', 'ER')];
    captures.append(no, said.slice(0, 1));
    captures.append(no, said.slice(1));
    expect(captures.load(no)).toEqual({ capture: { ...header, chunks: said }, source: 'live' });
    captures.seal(no, instant(2_000));
    expect(captures.load(no)).toEqual({
      capture: { ...header, chunks: said, closedAt: instant(2_000) },
      source: 'live',
    });
  });

  it('keeps no loose chunks of a sealed capture, and seals only once', () => {
    const { captures, db } = tempStore();
    const no = captures.open(header, owner);
    captures.append(no, [chunk(1, 'in', 'x')]);
    const sha256 = captures.seal(no, instant(5));
    expect(captures.seal(no)).toBe(sha256);
    expect(captures.load(no).capture.closedAt).toBe(5);
    expect(db.statement('SELECT count(*) AS n FROM capture_chunk').get()).toEqual({ n: 0 });
  });

  it('refuses to store the same conversation twice', () => {
    const { captures } = tempStore();
    const capture = { ...header, chunks: [chunk(1, 'in', 'x')] };
    captures.add(capture, fingerprint(capture), owner);
    expect(() => captures.add(capture, fingerprint(capture), owner)).toThrow(/UNIQUE/);
    expect(captures.find(fingerprint(capture))).toBe(1);
  });

  it('lists what nobody finished, and takes a capture in only once', () => {
    const { captures } = tempStore();
    const one = captures.open(header, owner);
    const two = captures.open(header, { pid: 7 });
    captures.append(two, [chunk(1, 'in', 'x')]);
    captures.seal(two);
    expect(captures.unfinished()).toEqual([
      { captureNo: one, owner, sealed: false },
      { captureNo: two, owner: { pid: 7 }, sealed: true },
    ]);
    expect(() => captures.markTakenIn(one)).toThrow(/cannot be taken in/);
    expect(captures.markTakenIn(two)).toBe(1);
    expect(() => captures.markTakenIn(two)).toThrow(/cannot be taken in/);
    expect(captures.taken()).toEqual([two]);
  });

  it(`packs any chunks and unpacks the same (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(chunks, (given) => {
        expect(unpackChunks(packChunks(given))).toEqual(given);
      }),
      { seed: SEED, numRuns: 200 },
    );
  });

  it(`finds damage in a packed blob instead of giving other bytes (SEED=${SEED})`, () => {
    const packed = packChunks([chunk(1, 'out', 'READ*DC73\r\n'), chunk(2, 'in', 'END n=0 x=FFFF*0000\r\n')]);
    const whole = unpackChunks(packed);
    for (let at = 0; at < packed.length; at++) {
      const bad = Uint8Array.from(packed);
      bad[at] = (bad[at] ?? 0) ^ 0x10;
      let got: unknown = 'refused';
      try {
        got = unpackChunks(bad);
      } catch (thrown) {
        expect(thrown).toMatchObject({ code: 'STORE_DAMAGED' });
      }
      // Header bits of zlib that carry no data may change without harm.
      if (got !== 'refused') expect(got).toEqual(whole);
    }
  });

  it(`takes as fingerprint the hash of the capture's file without its closing line (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(chunks, (given) => {
        const text = formatCapture({ ...header, chunks: given });
        expect(fingerprint({ ...header, chunks: given, closedAt: instant(9) })).toBe(
          createHash('sha256').update(text).digest('hex'),
        );
      }),
      { seed: SEED, numRuns: 100 },
    );
  });
});
