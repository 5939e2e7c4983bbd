/**
 * One run of one kind of outlet, in a process of its own: either the outlet as the daemon drives it, or a bare loop that
 * hands over what the outlet would have handed over, made before the clock starts. Run with a JSON of `OutletRun`.
 */
import { mkdirSync } from 'node:fs';
import { open, writeFile } from 'node:fs/promises';
import { connect, type Socket } from 'node:net';
import { join } from 'node:path';
import { instant } from '../../../src/core/instant.ts';
import { OUTLET_HEADER, outgoingRows } from '../../../src/outlets/csv/outgoing-row.ts';
import { transactionOf } from '../../../src/outlets/fhir/bundle.ts';
import { fhirJson } from '../../../src/outlets/fhir/fhir-json.ts';
import { systemsOf } from '../../../src/outlets/fhir/keys.ts';
import { messagesOf } from '../../../src/outlets/hl7/message.ts';
import { Hl7MllpSettings } from '../../../src/outlets/hl7/settings.ts';
import { type Gateway, type GivenSettings, kindOf } from '../../../src/outlets/kinds.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { connect as connectPostgres } from '../../../src/outlets/postgres/connection.ts';
import { valueRows, versionRow } from '../../../src/outlets/postgres/copy-rows.ts';
import { VALUE_COLUMNS, VERSION_COLUMNS } from '../../../src/outlets/postgres/schema.ts';
import { PostgresSettings } from '../../../src/outlets/postgres/settings.ts';
import { workOff } from '../../../src/outlets/work-off.ts';
import { openStore } from '../../../src/store/open-store.ts';
import type { Store } from '../../../src/store/store.ts';

/** The kinds that are measured. */
export const OUTLET_RUNS = ['csv', 'postgres', 'fhir-file', 'fhir-server', 'hl7-file', 'hl7-mllp'] as const;
type Kind = (typeof OUTLET_RUNS)[number];

export interface OutletRun {
  readonly kind: Kind;
  readonly how: 'outlet' | 'bare';
  /** The data folder. */
  readonly store: string;
  /** Where files are written. */
  readonly to: string;
  readonly ports: { readonly postgres: number; readonly fhir: number; readonly mllp: number };
}

const NOW = instant(Date.UTC(2026, 2, 3));
const GATEWAY: Gateway & { readonly site: string } = {
  site: 'Port Alder',
  zone: 'Europe/Lisbon',
  mark: 'bench',
  now: () => NOW,
};

function settingsOf({ kind, how, to, ports }: OutletRun): GivenSettings {
  switch (kind) {
    case 'csv':
      return { folder: to, files: 'one' };
    case 'postgres':
      return {
        host: '127.0.0.1',
        port: String(ports.postgres),
        database: 'postgres',
        user: 'postgres',
        tls: 'off',
        schema: `bench_${how}`,
      };
    case 'fhir-file':
      return { folder: to, files: 'one' };
    case 'fhir-server':
      return { url: `http://127.0.0.1:${ports.fhir}/fhir` };
    case 'hl7-file':
      return { folder: to };
    case 'hl7-mllp':
      return { host: '127.0.0.1', port: String(ports.mllp) };
  }
}

/** Makes what a run needs before it is measured. */
export async function prepareRun(run: OutletRun): Promise<void> {
  mkdirSync(run.to, { recursive: true });
  await kindOf(run.kind).prepare?.(settingsOf(run), 0);
}

/** The outlet as the driver feeds it, from the first row of the log to the last. */
async function driveOutlet(run: OutletRun, store: Store): Promise<{ readings: number; seconds: number }> {
  const name = `bench ${run.kind}`;
  const no = store.outlets.add({ name, kind: run.kind, settings: '{}', filter: '{}' }, 0, 'bench', NOW);
  const outlet = await kindOf(run.kind).open(settingsOf(run), GATEWAY);
  let readings = 0;
  const start = process.hrtime.bigint();
  for (;;) {
    const signal = new AbortController().signal;
    const worked = await workOff(no, { outlet, filter: {} }, { store, now: () => NOW, signal });
    if (worked.kind === 'idle') break;
    readings += worked.taken;
  }
  const seconds = Number(process.hrtime.bigint() - start) / 1e9;
  await outlet.close();
  return { readings, seconds };
}

/** Hands over what was made of a batch; only this is timed. */
type HandOver = () => Promise<void>;
/** Makes of a batch what is handed over. */
type Make = (batch: readonly Delivery[]) => HandOver;

/** The bare loop of a kind, with the same batches as its outlet. */
async function bareLoop(run: OutletRun): Promise<{ size: number; make: Make; close(): Promise<unknown> }> {
  const settings = settingsOf(run);
  switch (run.kind) {
    case 'csv': {
      const file = await open(join(run.to, 'readings.csv'), 'w');
      await file.write(OUTLET_HEADER);
      return {
        size: 1000,
        close: () => file.close(),
        make: (batch) => {
          const text = batch.flatMap(outgoingRows).join('');
          return async () => {
            await file.write(text);
            await file.sync();
          };
        },
      };
    }
    case 'postgres': {
      const connection = await connectPostgres(PostgresSettings.parse({ ...settings, port: run.ports.postgres }));
      const schema = settings['schema'];
      const names = (columns: readonly { readonly name: string }[]) => columns.map((c) => c.name).join(', ');
      await connection.query(`ALTER TABLE ${schema}.reading_version ALTER site SET DEFAULT 'Port Alder'`);
      await connection.query(`ALTER TABLE ${schema}.reading_value ALTER site SET DEFAULT 'Port Alder'`);
      return {
        size: 2000,
        close: () => connection.close(),
        make: (batch) => {
          const [versions, values] = [batch.map(versionRow).join(''), batch.map(valueRows).join('')];
          return async () => {
            await connection.query('BEGIN');
            await connection.copy(`COPY ${schema}.reading_version (${names(VERSION_COLUMNS)}) FROM STDIN`, versions);
            await connection.copy(`COPY ${schema}.reading_value (${names(VALUE_COLUMNS)}) FROM STDIN`, values);
            await connection.query('COMMIT');
          };
        },
      };
    }
    case 'fhir-file': {
      const file = await open(join(run.to, 'fhir.ndjson'), 'w');
      const systems = systemsOf(GATEWAY.site, undefined, undefined);
      return {
        size: 200,
        close: () => file.close(),
        make: (batch) => {
          const bundle = JSON.parse(fhirJson(transactionOf(batch, GATEWAY.site, systems, NOW))) as {
            entry: { resource: object }[];
          };
          const lines = bundle.entry.map(({ resource }) => `${JSON.stringify(resource)}\n`);
          const text = lines.join('');
          return async () => {
            await file.write(text);
            await file.sync();
          };
        },
      };
    }
    case 'fhir-server': {
      const systems = systemsOf(GATEWAY.site, undefined, undefined);
      return {
        size: 50,
        close: () => Promise.resolve(),
        make: (batch) => {
          const body = fhirJson(transactionOf(batch, GATEWAY.site, systems, NOW));
          return async () => {
            const response = await fetch(settings['url'] ?? '', { method: 'POST', body });
            await response.text();
          };
        },
      };
    }
    case 'hl7-file':
    case 'hl7-mllp': {
      const sender = {
        site: GATEWAY.site,
        zone: GATEWAY.zone,
        settings: Hl7MllpSettings.parse({ host: 'x', port: 1 }),
      };
      const socket = run.kind === 'hl7-mllp' ? await connected(run.ports.mllp) : undefined;
      const made = (batch: readonly Delivery[]) => batch.flatMap((d) => [...messagesOf(d, sender, NOW)]);
      return {
        size: socket ? 50 : 100,
        close: () => Promise.resolve(socket?.destroy()),
        make: (batch) => {
          const messages = made(batch);
          return async () => {
            for (const { controlId, text } of messages) {
              if (socket) await answered(socket, `\u000b${text}\u001c\r`);
              else await writeFile(join(run.to, `${controlId}.hl7`), text, { flush: true });
            }
          };
        },
      };
    }
  }
}

function connected(port: number): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1', () => resolve(socket.setNoDelay(true)));
    socket.once('error', reject);
  });
}

/** Sends a frame and waits for the end of the one that comes back. */
function answered(socket: Socket, frame: string): Promise<void> {
  return new Promise((resolve) => {
    const hear = (chunk: Buffer): void => {
      if (!chunk.includes('\u001c\r')) return;
      socket.off('data', hear);
      resolve();
    };
    socket.on('data', hear);
    socket.write(frame);
  });
}

/** Everything in the log in batches, each made before its time is taken. */
async function runBare(run: OutletRun, store: Store): Promise<{ readings: number; seconds: number }> {
  const loop = await bareLoop(run);
  let [readings, seconds, after] = [0, 0, 0];
  for (;;) {
    const rows = store.outgoing.page(after, loop.size);
    const last = rows.at(-1);
    if (!last) break;
    after = last.seq;
    const bodies = store.outgoing.compose(rows.map((r) => r.reading));
    const batch = rows.flatMap((r): Delivery[] => {
      const body = bodies.get(r.reading);
      return body ? [{ seq: r.seq, reading: body.reading, isWithdrawn: false }] : [];
    });
    const handOver = loop.make(batch);
    const start = process.hrtime.bigint();
    await handOver();
    seconds += Number(process.hrtime.bigint() - start) / 1e9;
    readings += batch.length;
  }
  await loop.close();
  return { readings, seconds };
}

const given = process.argv[2];
if (process.argv[1]?.endsWith('outlet-runs.js') && given) {
  const run = JSON.parse(given) as OutletRun;
  const store = openStore({ dir: run.store, now: NOW });
  const ran = run.how === 'outlet' ? await driveOutlet(run, store) : await runBare(run, store);
  store.close();
  console.log(JSON.stringify({ ...ran, peakMb: process.resourceUsage().maxRSS / 1024 }));
}
