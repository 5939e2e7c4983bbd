/** The very bytes of a reading, found by decoding ever shorter beginnings of its capture. */
import { describe, expect, it } from 'vitest';
import { inboundBytes, rawSpanOf, showBytes } from '../../src/cli/raw-bytes.ts';
import type { Capture } from '../../src/core/capture.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { decodeCapture } from '../../src/wire/decode.ts';
import { seedOr } from '../support/seed.ts';

const seed = seedOr(20260301);
const profiles = loadProfiles('');
const decode = (capture: Capture) => decodeCapture(capture, profiles.get(capture.profile));

describe.each(['line', 'astm'] as const)(`the bytes of a test told in %s (SEED=${seed})`, (protocol) => {
  const { captures } = generateHistory({ seed, world: 'drift-only', protocol, use: 'home', days: 120 });
  const capture = captures.at(-1);
  if (!capture) throw new Error('the history has no download');
  const tests = (decode(capture)[0]?.image ?? []).flatMap((item) => (item.kind === 'test' ? [item.test] : []));
  const spans = tests.map((test) => ({ test, span: rawSpanOf(capture, decode, 0, test.place) }));

  it('hold all its values, whole lines of what the meter sent', () => {
    expect(spans.length).toBeGreaterThan(5);
    const whole = inboundBytes(capture);
    for (const { test, span } of spans) {
      const text = Buffer.from(span?.bytes ?? []).toString('latin1');
      for (const { value } of test.values) expect(text).toContain(value);
      expect(text.endsWith('\r\n')).toBe(true);
      expect(Buffer.from(whole.subarray(span?.from, span?.to)).toString('latin1')).toBe(text);
    }
  });

  it("are nobody else's: no two tests share a byte", () => {
    const ordered = spans.map(({ span }) => span).sort((a, b) => (a?.from ?? 0) - (b?.from ?? 0));
    for (const [i, span] of ordered.entries())
      if (i > 0) expect(span?.from ?? 0).toBeGreaterThanOrEqual(ordered[i - 1]?.to ?? 0);
  });

  it('arrived when the chunk arrived that brought their checksum', () => {
    const arrivals = capture.chunks.filter((chunk) => chunk.dir === 'in');
    for (const { span } of spans) {
      let sent = 0;
      // The line end may come with a chunk of its own; the test is whole with the byte before it.
      const chunk = arrivals.find(({ data }) => {
        sent += data.length;
        return sent >= (span?.to ?? 0) - 2;
      });
      expect(span?.at).toBeGreaterThanOrEqual(chunk?.at ?? Number.NaN);
    }
  });

  it('are not found for a place that the download does not tell', () => {
    expect(rawSpanOf(capture, decode, 0, '9999')).toBeUndefined();
    expect(rawSpanOf(capture, decode, 7, tests[0]?.place ?? '')).toBeUndefined();
  });
});

it('bytes are shown with control characters by name, one line for each line that was sent', () => {
  const bytes = Uint8Array.from([2, 0x31, 0x41, 13, 3, 0x46, 0x46, 13, 10, 0xe9, 0, 0x7f]);
  expect(showBytes(bytes)).toEqual(['<STX>1A<CR><ETX>FF<CR><LF>', '<E9><00><7F>']);
});
