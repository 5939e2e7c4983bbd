/**
 * A full memory of 200 results over a real pseudo-terminal with the serial library, paced at 9600 baud: first clean,
 * where it may take at most 1.03 times what its bytes need on the line; then with one byte in 2,000 damaged both ways,
 * where every value must still be right.
 */
import { instant } from '../../src/core/instant.ts';
import { openStore } from '../../src/store/open-store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { NO_FAULTS } from '../../src/virtual/faults.ts';
import type { VirtualMeter } from '../../src/virtual/meter.ts';
import { virtualPort } from '../../src/virtual/port.ts';
import { servePty } from '../../src/virtual/serve.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';
import { makeProgram } from '../../tests/support/run-program.ts';
import { seedOr } from '../../tests/support/seed.ts';
import { fullMeter } from '../bench/lib/meters.ts';

const SEED = seedOr(20260301);
const BAUD = 9600;
const HELD = 200;
/** Start, eight data and stop bit. */
const BITS = 10;
const LIMIT = 1.03;

const now = () => instant(performance.timeOrigin + performance.now());
let failed = false;

/** Collects a full meter over a pseudo-terminal; the seconds and bytes from READ to the last byte of the answer. */
async function collectFull(damageRate: number) {
  const meter = fullMeter(HELD, 'line', SEED);
  const faults = { ...NO_FAULTS, baud: BAUD, damageRate };
  const served = await servePty(virtualPort(lineSpeaker(), meter, faults, chanceFrom(SEED), now));
  const program = makeProgram();
  try {
    const ran = await program.run('collect', served.where, '--json', '--set-clock', 'never');
    const store = openStore({ dir: program.data, now: instant(Date.now()), mustExist: true });
    try {
      const { chunks } = store.captures.load(1).capture;
      const text = (data: Uint8Array) => Buffer.from(data).toString('latin1');
      const asked = chunks.findIndex((chunk) => chunk.dir === 'out' && text(chunk.data).startsWith('READ'));
      const left = chunks.findIndex((chunk) => chunk.dir === 'out' && text(chunk.data).startsWith('BYE'));
      const window = chunks.slice(asked, left < 0 ? undefined : left);
      const bytes = window.reduce((sum, chunk) => sum + chunk.data.length, 0);
      const seconds = ((window.at(-1)?.at ?? 0) - (window[0]?.at ?? 0)) / 1000;
      const readings = [...store.readings.pages({})].flat();
      return { ran, bytes, seconds, readings, meter };
    } finally {
      store.close();
    }
  } finally {
    program.dispose();
    await served.close();
  }
}

/** What a meter holds and what was read, each as lines in the order of the tests. */
function contents(meter: VirtualMeter, readings: Awaited<ReturnType<typeof collectFull>>['readings']) {
  const line = (
    stamp: string,
    kind: string,
    values: readonly { analyte: string; value: string; unit: string }[],
    code = '',
  ) => [stamp, kind, ...values.map((v) => `${v.analyte}=${v.value}${v.unit}`), code].join(' ');
  const held = meter.memory.held.map(({ test }) => line(test.stamp, test.kind, test.values, test.errorCode)).sort();
  const read = readings.map(({ record: r }) => line(r.meterTimeText, r.kind, r.values, r.errorCode)).sort();
  return { held, read };
}

for (const [name, rate] of [
  ['clean', 0],
  ['1 in 2,000 bytes damaged both ways', 1 / 2000],
] as const) {
  const { ran, bytes, seconds, readings, meter } = await collectFull(rate);
  const { held, read } = contents(meter, readings);
  const isSame = held.length === HELD && held.join('\n') === read.join('\n');
  const [row] = ran.stdout
    .split('\n')
    .filter(Boolean)
    .map((text) => JSON.parse(text));
  const needed = (bytes * BITS) / BAUD;
  const ratio = seconds / needed;
  console.log(
    `  ${name} (seed ${SEED}): exit ${ran.code}, ${read.length} of ${held.length} tests, ${isSame ? 'every value right' : 'VALUES DIFFER'}, ${row?.downloads?.[0]?.damaged_lines ?? '?'} damaged lines`,
  );
  console.log(
    `    ${bytes} bytes in ${seconds.toFixed(2)} s; the line needs ${needed.toFixed(2)} s: ${ratio.toFixed(3)} times`,
  );
  if (ran.code !== 0 || !isSame || (rate === 0 && ratio > LIMIT)) failed = true;
}
process.exitCode = failed ? 1 : 0;
