/** Capture files: what is written is read back, and a broken line is named. */
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { formatCapture, parseCapture } from '../../src/wire/capture-file.ts';
import { decodeLine } from '../../src/wire/line/decode.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260301);
const EXAMPLE = readFileSync(new URL('../../protocols/capture/example.capture.jsonl', import.meta.url), 'utf8');

const HEADER =
  '{"capture":1,"port":"COM3","profile":"tlp-generic","zone":"Europe/Lisbon","openedAt":"2025-01-11T18:40:47.654Z"}';
const CHUNK = '{"at":"2025-01-11T18:40:47.700Z","dir":"in","data":"QlkK"}';
const CLOSING = '{"closedAt":"2025-01-11T18:40:48.000Z"}';

/** The fault of reading these lines; fails where there is none. */
function faultOf(...lines: readonly string[]): Fault {
  try {
    parseCapture(lines.join('\n'), 'x.capture.jsonl');
  } catch (thrown) {
    if (thrown instanceof Fault) return thrown;
    throw thrown;
  }
  throw new Error('nothing was refused');
}

describe('reading a capture', () => {
  it('gives port, profile, zone, times and bytes', () => {
    expect(parseCapture([HEADER, CHUNK, CLOSING, ''].join('\n'), 'x')).toEqual({
      port: 'COM3',
      profile: 'tlp-generic',
      zone: 'Europe/Lisbon',
      openedAt: Date.UTC(2025, 0, 11, 18, 40, 47, 654),
      chunks: [{ at: Date.UTC(2025, 0, 11, 18, 40, 47, 700), dir: 'in', data: Buffer.from('BY\n') }],
      closedAt: Date.UTC(2025, 0, 11, 18, 40, 48),
    });
  });

  it('reads the published example to a whole download with the clock set', () => {
    const [download] = decodeLine(parseCapture(EXAMPLE, 'example'), { name: 'tlp-generic', analytes: {}, units: {} });
    expect(download).toMatchObject({ complete: true, meter: { id: 'SN00042' }, held: 3, lossCount: 1 });
    expect(download?.clock.map((e) => e.kind)).toEqual(['anchor', 'set', 'anchor']);
  });

  it('takes a capture without a closing line: the program died', () => {
    expect(parseCapture(`${HEADER}\n${CHUNK}\n`, 'x')).not.toHaveProperty('closedAt');
  });

  it('takes Windows line ends, keys that a later version adds, and times that go backwards', () => {
    const earlier = CHUNK.replace('47.700', '40.000').replace('"dir"', '"later":1,"dir"');
    const capture = parseCapture([HEADER, CHUNK, earlier].join('\r\n'), 'x');
    expect(capture.chunks.map((c) => c.at)).toEqual([
      Date.UTC(2025, 0, 11, 18, 40, 47, 700),
      Date.UTC(2025, 0, 11, 18, 40, 40),
    ]);
  });
});

describe('a broken line', () => {
  it.each([
    ['an empty file', [''], 1],
    ['a header that is not JSON', ['{'], 1],
    ['a header of another version', [HEADER.replace('"capture":1', '"capture":2')], 1],
    ['a header without a port', [HEADER.replace('"port":"COM3",', '')], 1],
    ['a zone that does not exist', [HEADER.replace('Europe/Lisbon', 'Europe/Atlantis')], 1],
    ['an opening time that does not exist', [HEADER.replace('01-11', '02-30')], 1],
    ['a chunk that is not JSON', [HEADER, CHUNK, 'x', CHUNK], 3],
    ['a chunk that was cut off when the program died', [HEADER, CHUNK, CHUNK.slice(0, 40)], 3],
    ['a direction that nobody knows', [HEADER, CHUNK.replace('"in"', '"up"')], 2],
    ['bytes that are no base64', [HEADER, CHUNK.replace('QlkK', 'Q*kK')], 2],
    ['base64 that ends early', [HEADER, CHUNK.replace('QlkK', 'QlkKQ')], 2],
    ['a time without a zone', [HEADER, CHUNK.replace('.700Z', '')], 2],
    ['an empty line in the middle', [HEADER, '', CHUNK], 2],
    ['a chunk behind the closing line', [HEADER, CLOSING, CHUNK], 3],
    ['a line that is a mere number', [HEADER, '7'], 2],
  ])('is refused with its file and line: %s', (_, lines, line) => {
    const fault = faultOf(...lines);
    expect(fault.code).toBe('CAPTURE_BROKEN');
    expect(fault.exitCode).toBe(2);
    expect(fault.message).toContain(`x.capture.jsonl, line ${line}: `);
    expect(fault.message).not.toContain('\n');
  });

  it('is found wherever the example is cut inside a line', () => {
    const lineEnds = new Set([...EXAMPLE].flatMap((c, i) => (c === '\n' ? [i, i + 1] : [])));
    for (let cut = 1; cut < EXAMPLE.length; cut++) {
      const text = EXAMPLE.slice(0, cut);
      if (lineEnds.has(cut)) expect(parseCapture(text, 'x').port).toBe('/dev/ttyUSB0');
      else expect(faultOf(text).message).toContain(`line ${text.split('\n').length}: `);
    }
  });
});

describe('writing a capture', () => {
  const instants = fc.integer({ min: 0, max: 4e12 }).map(instant);
  const captures: fc.Arbitrary<Capture> = fc
    .record({
      port: fc.string({ minLength: 1 }),
      profile: fc.string({ minLength: 1 }),
      zone: fc.constantFrom('UTC', 'Europe/Lisbon', 'America/St_Johns'),
      openedAt: instants,
      chunks: fc.array(
        fc.record({
          at: instants,
          dir: fc.constantFrom('in' as const, 'out' as const),
          data: fc.uint8Array({ maxLength: 40 }).map((bytes) => Buffer.from(bytes)),
        }),
        { maxLength: 6 },
      ),
      closedAt: fc.option(instants, { nil: undefined }),
    })
    .map(({ closedAt, ...capture }) => ({ ...capture, ...(closedAt === undefined ? {} : { closedAt }) }));

  it(`gives back every capture when it is read again (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(captures, (capture) => {
        expect(parseCapture(formatCapture(capture), 'x')).toEqual(capture);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });

  it('writes the example byte for byte as it was read', () => {
    expect(formatCapture(parseCapture(EXAMPLE, 'x'))).toBe(EXAMPLE);
  });
});
