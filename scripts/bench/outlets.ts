/**
 * From a cold outbox to each outlet: readings a second and memory, against a bare loop that hands the very same rows,
 * resources or messages over with the same library and the same care about the disk; and CSV against SQLite's own
 * command line that exports the same query. 20,000 readings; `npm run bench outlets -- --readings=1000000` for all.
 * Receivers on the network are bare ones that only acknowledge, in this process; outlet and bare loop run in one of
 * their own each. `-- --only=csv,postgres` chooses among the kinds.
 */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { createServer as createHttpServer } from 'node:http';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { makePostgres } from '../../tests/support/postgres.ts';
import { fillStore } from './lib/full-store.ts';
import { OUTLET_RUNS, type OutletRun, prepareRun } from './lib/outlet-runs.ts';
import { keepFigure } from './lib/report.ts';

const option = (name: string): string | undefined =>
  process.argv.find((arg) => arg.startsWith(`--${name}=`))?.slice(name.length + 3);
const READINGS = Number(option('readings') ?? 10_000);
const ONLY = option('only')?.split(',');
const RUNNER = fileURLToPath(new URL('./lib/outlet-runs.js', import.meta.url));

/** What a run in a process of its own came to. */
interface Ran {
  readonly seconds: number;
  readonly readings: number;
  readonly peakMb: number;
}

async function runApart(run: OutletRun): Promise<Ran> {
  const child: ChildProcess = spawn(process.execPath, [...process.execArgv, RUNNER, JSON.stringify(run)], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let said = '';
  child.stdout?.on('data', (chunk: Buffer) => {
    said += chunk.toString();
  });
  const [code] = await once(child, 'close');
  if (code !== 0) throw new Error(`the run of ${run.kind} ended with ${code}`);
  return JSON.parse(said) as Ran;
}

/** A server that answers every transaction as stored. */
async function fhirSink(): Promise<{ port: number; close(): void }> {
  const server = createHttpServer((request, response) => {
    let body = '';
    request.setEncoding('latin1').on('data', (chunk: string) => {
      body += chunk;
    });
    request.on('end', () => {
      const entries = body.split('"fullUrl"').length - 1;
      const entry = Array.from({ length: entries }, () => ({ response: { status: '201 Created' } }));
      response.setHeader('content-type', 'application/fhir+json');
      response.end(JSON.stringify({ resourceType: 'Bundle', type: 'transaction-response', entry }));
    });
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  return { port: (server.address() as AddressInfo).port, close: () => server.close() };
}

/** A receiver that acknowledges every message. */
async function mllpSink(): Promise<{ port: number; close(): void }> {
  const server = createServer((socket) => {
    let heard = '';
    socket.setNoDelay(true).setEncoding('utf8');
    socket.on('error', () => {}); // the run has ended
    socket.on('data', (chunk) => {
      heard += String(chunk);
      for (let end = heard.indexOf('\u001c\r'); end >= 0; end = heard.indexOf('\u001c\r')) {
        const id = heard.slice(0, end).split('|')[9] ?? '';
        heard = heard.slice(end + 2);
        socket.write(`\u000bMSH|^~\\&|||||||ACK|${id}|P|2.5.1\rMSA|AA|${id}\r\u001c\r`);
      }
    });
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  return { port: (server.address() as AddressInfo).port, close: () => server.close() };
}

const dir = mkdtempSync(join(tmpdir(), 'tallydock-bench-'));
const store = join(dir, 'store');
mkdirSync(store);
const server = await makePostgres(['fsync=on', 'max_wal_size=4GB']);
const [fhir, mllp] = [await fhirSink(), await mllpSink()];
try {
  const filling = process.hrtime.bigint();
  fillStore(store, READINGS);
  const seconds = Number(process.hrtime.bigint() - filling) / 1e9;
  const size = statSync(join(store, 'tallydock.db')).size / 1e6;
  console.log(
    `  ${READINGS} readings with INR and PT in a store of ${size.toFixed(0)} MB (filled in ${seconds.toFixed(1)} s)`,
  );
  for (const kind of OUTLET_RUNS.filter((name) => !ONLY || ONLY.includes(name))) {
    const ports = { postgres: server.port, fhir: fhir.port, mllp: mllp.port };
    const common = { kind, store, ports };
    const outlet = { ...common, how: 'outlet' as const, to: join(dir, `${kind}-outlet`) };
    const bare = { ...common, how: 'bare' as const, to: join(dir, `${kind}-bare`) };
    await prepareRun(outlet);
    await prepareRun(bare);
    const [ours, loop] = [await runApart(outlet), await runApart(bare)];
    if (ours.readings !== READINGS || loop.readings !== READINGS)
      throw new Error(`${kind}: ${ours.readings} and ${loop.readings} readings instead of ${READINGS}`);
    const [rate, bareRate] = [ours.readings / ours.seconds, loop.readings / loop.seconds];
    console.log(
      `  ${kind}: ${rate.toPrecision(3)} readings/s, ${ours.peakMb.toFixed(0)} MB at most; bare loop: ` +
        `${bareRate.toPrecision(3)} readings/s, ${loop.peakMb.toFixed(0)} MB; ratio ${(rate / bareRate).toFixed(2)}`,
    );
    keepFigure({ what: `outlet ${kind}`, figure: rate, unit: 'readings/s', ratio: rate / bareRate });
    if (kind === 'csv') compareWithShell(ours.seconds);
    for (const run of [outlet, bare]) rmSync(run.to, { recursive: true, force: true });
  }
} finally {
  fhir.close();
  mllp.close();
  await server.dispose();
  rmSync(dir, { recursive: true, force: true });
}

/** The same columns as far as SQL has them, by the sqlite3 command line. */
function compareWithShell(ours: number): void {
  const sql = `SELECT r.reading_id, m.meter_id, m.model, w.patient_id, r.kind, v.analyte, v.value, v.unit, r.slot, r.run_number,
      r.meter_time, strftime('%Y-%m-%dT%H:%M:%SZ', p.taken_at / 1000, 'unixepoch'),
      strftime('%Y-%m-%dT%H:%M:%SZ', p.earliest / 1000, 'unixepoch'),
      strftime('%Y-%m-%dT%H:%M:%SZ', p.latest / 1000, 'unixepoch'), p.basis, r.flags, r.lot, r.lot_expiry, r.operator,
      j.status, r.first_download, strftime('%Y-%m-%dT%H:%M:%SZ', d.at / 1000, 'unixepoch'), j.version, j.basis, t.low,
      t.high, j.standing
    FROM outgoing o JOIN judged j ON j.reading_id = o.reading_id AND j.version = o.version
    JOIN reading r ON r.reading_id = o.reading_id JOIN reading_value v ON v.reading_id = o.reading_id
    JOIN placement p ON p.reading_id = o.reading_id
      AND p.version = (SELECT max(version) FROM placement WHERE reading_id = o.reading_id)
    JOIN meter m ON m.meter_no = r.meter_no JOIN download d ON d.download_id = r.first_download
    JOIN patient w ON w.patient_no = j.patient_no JOIN target t ON t.patient_no = j.patient_no ORDER BY o.seq, v.n`;
  const out = join(dir, 'shell.csv');
  const start = process.hrtime.bigint();
  const done = spawnSync('sqlite3', [join(store, 'tallydock.db'), '.mode csv', `.once ${out}`, sql], {
    stdio: 'inherit',
  });
  const seconds = Number(process.hrtime.bigint() - start) / 1e9;
  if (done.status !== 0) throw new Error('the sqlite3 command line failed');
  keepFigure({ what: 'outlet csv beside sqlite3', figure: READINGS / ours, unit: 'readings/s', ratio: seconds / ours });
  console.log(
    `  sqlite3's own CSV export of the same query: ${(READINGS / seconds).toPrecision(3)} readings/s; ratio of the csv ` +
      `outlet to it ${(seconds / ours).toFixed(2)}`,
  );
}
