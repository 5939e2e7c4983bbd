/** Decoding whole captures, in MB of wire bytes a second, against JSON.parse of the same facts as lines of NDJSON. */
import { decodeCapture } from '../../src/wire/decode.ts';
import { download, fullMeter, profiles, SEED } from './lib/meters.ts';
import { report, secondsOf } from './lib/report.ts';

const TESTS = 5000;
const PROFILES = { line: 'tlp-generic', astm: 'astm-generic-newest' } as const;

console.log(`  seed ${SEED}, ${TESTS} tests in one memory`);
for (const protocol of ['line', 'astm'] as const) {
  const capture = download(fullMeter(TESTS, protocol), protocol);
  const profile = profiles.get(PROFILES[protocol]);
  const [decoded] = decodeCapture(capture, profile);
  const tests = (decoded?.image ?? []).flatMap((item) => (item.kind === 'test' ? [item.test] : []));
  if (!decoded?.complete || tests.length !== TESTS) throw new Error(`${protocol}: ${tests.length} of ${TESTS} tests`);

  // The stamp as a number is derived, not told: it is not among the facts.
  const ndjson = tests.map(({ meterTime: _derived, ...facts }) => JSON.stringify(facts)).join('\n');
  const wireBytes = capture.chunks.reduce((sum, chunk) => sum + chunk.data.length, 0);
  const decodeS = secondsOf(() => decodeCapture(capture, profile));
  const parseS = secondsOf(() => {
    for (const line of ndjson.split('\n')) JSON.parse(line);
  });
  report({
    what: `${protocol === 'line' ? 'TLP/1' : 'ASTM'} decoding of ${(wireBytes / 1e6).toFixed(2)} MB`,
    against: `JSON.parse of ${(ndjson.length / 1e6).toFixed(2)} MB`,
    baseline: ndjson.length / 1e6 / parseS,
    figure: wireBytes / 1e6 / decodeS,
    unit: 'MB/s',
    aim: { kind: 'at-least', ratio: 0.5 },
  });
}
