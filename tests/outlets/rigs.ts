/**
 * One rig for each kind of outlet: a real receiver at the other end that can be taken away, slowed down, made to refuse
 * one reading, and asked what it has. To put another outlet under the contract, write its rig here.
 */
import { existsSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Hl7Message } from '@medplum/core';
import { parse } from 'csv-parse/sync';
import type { ReadingId } from '../../src/core/reading.ts';
import { csvOutlet } from '../../src/outlets/csv/csv-outlet.ts';
import { CsvSettings } from '../../src/outlets/csv/settings.ts';
import { fhirFileOutlet } from '../../src/outlets/fhir/file-outlet.ts';
import { fhirServerOutlet } from '../../src/outlets/fhir/server-outlet.ts';
import { FhirFileSettings, FhirServerSettings } from '../../src/outlets/fhir/settings.ts';
import { hl7FileOutlet } from '../../src/outlets/hl7/file-outlet.ts';
import { hl7MllpOutlet } from '../../src/outlets/hl7/mllp-outlet.ts';
import { Hl7FileSettings, Hl7MllpSettings } from '../../src/outlets/hl7/settings.ts';
import type { Outlet } from '../../src/outlets/outlet.ts';
import { postgresOutlet, preparePostgres } from '../../src/outlets/postgres/postgres-outlet.ts';
import { PostgresSettings } from '../../src/outlets/postgres/settings.ts';
import type { PostgresServer } from '../support/postgres.ts';
import { type TcpProxy, tcpProxy } from '../support/tcp-proxy.ts';
import { NOW } from './driven.ts';
import { fhirServer } from './fhir/fhir-server.ts';
import { mllpListener } from './hl7/mllp-listener.ts';

/** What a receiver has of one version of a reading. */
export interface Received {
  readonly reading: ReadingId;
  readonly version: number;
  readonly isWithdrawn: boolean;
}

export interface Rig {
  /** A fresh outlet, as after a start of the program. */
  open(): Outlet;
  /** What the receiver has, told apart by its own keys, in the order of arrival; what it has twice stands there twice. */
  received(): Promise<Received[]>;
  /** Takes the receiver away so that it cannot be reached, and brings it back with all that it had. */
  takeAway(): Promise<void>;
  bringBack(): Promise<void>;
  /** The next delivery is stored and its answer never comes; absent where storing and answering are one. */
  readonly loseNextAnswer?: () => void;
  /** Lets it answer nobody, and go on; absent where it cannot be slow. */
  readonly stall?: (isStalled: boolean) => void;
  /** Makes it refuse this reading; absent where it takes whatever is written. */
  readonly refuse?: (reading: ReadingId) => Promise<void>;
  dispose(): Promise<void>;
}

export interface RigKind {
  readonly name: string;
  /** True where the receiver is a folder: then it can stand on a small disk. */
  readonly isFolder: boolean;
  /** Makes one; a receiver that is a folder stands in `folder`. */
  make(folder: string): Promise<Rig>;
}

const gateway = { site: 'Port Alder', zone: 'Europe/Lisbon', now: () => NOW };

/** A rig whose receiver is a folder. It is taken away by a file that stands in its place. */
function folderRig(folder: string, open: (inner: string) => Outlet, received: (inner: string) => Received[]): Rig {
  const inner = join(folder, 'out');
  const aside = join(folder, 'aside');
  return {
    open: () => open(inner),
    received: () => Promise.resolve(existsSync(inner) ? received(inner) : []),
    takeAway() {
      if (existsSync(inner)) renameSync(inner, aside);
      writeFileSync(inner, '');
      return Promise.resolve();
    },
    bringBack() {
      rmSync(inner);
      if (existsSync(aside)) renameSync(aside, inner);
      return Promise.resolve();
    },
    dispose: () => Promise.resolve(),
  };
}

const files = (folder: string, pattern: RegExp): { readonly name: string; readonly text: string }[] =>
  readdirSync(folder)
    .filter((name) => pattern.test(name))
    .sort()
    .map((name) => ({ name, text: readFileSync(join(folder, name), 'utf8') }));

/** The versions of a CSV folder; throws where a row is there twice, or one of a reading's rows is missing. */
export function csvVersions(folder: string): Received[] {
  const seen = new Set<string>();
  const versions = new Map<string, Received & { rows: number }>();
  for (const { text } of files(folder, /\.csv$/))
    for (const row of parse(text, { columns: true }) as Record<string, string>[]) {
      const key = `${row['reading_id']} ${row['version']}`;
      if (seen.has(`${key} ${row['analyte']}`)) throw new Error(`a row is there twice: ${key} ${row['analyte']}`);
      seen.add(`${key} ${row['analyte']}`);
      versions.set(key, {
        reading: row['reading_id'] as ReadingId,
        version: Number(row['version']),
        isWithdrawn: row['status'] === 'void',
        rows: (versions.get(key)?.rows ?? 0) + 1,
      });
    }
  const torn = [...versions.values()].filter(({ rows }) => rows !== 2);
  if (torn.length > 0) throw new Error(`rows are missing of ${torn.map((v) => v.reading).join(', ')}`);
  return [...versions.values()].map(({ rows: _, ...version }) => version);
}

/** A version from its name in a Provenance: `D1-1/v2/withdrawn`. */
function fromTag(resource: { readonly meta?: { readonly tag?: readonly { readonly code?: string }[] } }): Received {
  const [reading = '', version = '', end] = (resource.meta?.tag?.[0]?.code ?? '').split('/');
  return { reading: reading as ReadingId, version: Number(version.slice(1)), isWithdrawn: end === 'withdrawn' };
}

/** A version from MSH-10: `D1-1v2`, with `w` behind it where it is withdrawn. */
function fromControlId(id: string): Received {
  const [, reading = '', version = '', end] = /^(.+)v(\d+)(w?)$/.exec(id) ?? [];
  return { reading: reading as ReadingId, version: Number(version), isWithdrawn: end === 'w' };
}

/** Of a change of the person HL7 tells two messages of one version: the withdrawal for the one, the result for the other. */
const oneEach = (all: readonly Received[]): Received[] =>
  all.filter(
    (r) => !r.isWithdrawn || !all.some((o) => !o.isWithdrawn && o.reading === r.reading && o.version === r.version),
  );

/** A rig whose receiver is behind a relay. */
const behind = (proxy: TcpProxy, marker: string): Pick<Rig, 'takeAway' | 'bringBack' | 'loseNextAnswer' | 'stall'> => ({
  takeAway: proxy.takeAway,
  bringBack: proxy.bringBack,
  loseNextAnswer: () => proxy.loseNextAnswerTo(marker),
  stall: proxy.stall,
});

/** The PostgreSQL outlet against a server that the tests share; each rig has a schema of its own. */
export function postgresKind(server: () => PostgresServer): RigKind {
  let count = 0;
  return {
    name: 'postgres',
    isFolder: false,
    async make() {
      count++;
      const schema = `rig_${count}`;
      const proxy = await tcpProxy(server().port);
      const common = { host: '127.0.0.1', database: 'postgres', user: 'postgres', tls: 'off', schema };
      const settings = PostgresSettings.parse({ ...common, port: proxy.port });
      await preparePostgres(settings, 0);
      const deps = { site: 'Port Alder', gateway: 'a mark' };
      return {
        open: () => postgresOutlet(settings, deps),
        async received() {
          const rows = await server().query(
            `SELECT v.reading_id, v.version, v.is_withdrawn, (SELECT count(*) FROM ${schema}.reading_value w
                WHERE (w.site, w.reading_id, w.version) = (v.site, v.reading_id, v.version)) AS parts
              FROM ${schema}.reading_version v ORDER BY v.received_at, v.log_seq`,
          );
          if (rows.some((row) => row['parts'] !== '2')) throw new Error('values are missing');
          return rows.map((row) => ({
            reading: row['reading_id'] as ReadingId,
            version: Number(row['version']),
            isWithdrawn: row['is_withdrawn'] === true,
          }));
        },
        ...behind(proxy, 'COMMIT'),
        refuse: async (reading) =>
          void (await server().query(
            `ALTER TABLE ${schema}.reading_version ADD CONSTRAINT not_this_one CHECK (reading_id <> '${reading}')`,
          )),
        dispose: proxy.close,
      };
    },
  };
}

/** Every other kind. */
export const RIG_KINDS: readonly RigKind[] = [
  {
    name: 'csv, a file a day',
    isFolder: true,
    make: (folder) =>
      Promise.resolve(
        folderRig(folder, (inner) => csvOutlet(CsvSettings.parse({ folder: inner }), gateway), csvVersions),
      ),
  },
  {
    name: 'csv, one growing file',
    isFolder: true,
    make: (folder) =>
      Promise.resolve(
        folderRig(
          folder,
          (inner) => csvOutlet(CsvSettings.parse({ folder: inner, files: 'one' }), gateway),
          csvVersions,
        ),
      ),
  },
  {
    name: 'fhir-file',
    isFolder: true,
    make: (folder) =>
      Promise.resolve(
        folderRig(
          folder,
          (inner) => fhirFileOutlet(FhirFileSettings.parse({ folder: inner }), gateway),
          (inner) =>
            files(inner, /\.ndjson$/).flatMap(({ text }) =>
              text
                .split('\n')
                .filter((line) => line.startsWith('{"resourceType":"Provenance"'))
                .map((line) => fromTag(JSON.parse(line))),
            ),
        ),
      ),
  },
  {
    name: 'hl7-file',
    isFolder: true,
    make: (folder) =>
      Promise.resolve(
        folderRig(
          folder,
          (inner) => hl7FileOutlet(Hl7FileSettings.parse({ folder: inner }), gateway),
          (inner) =>
            oneEach(
              files(inner, /\.hl7$/).map(({ text }) =>
                fromControlId(Hl7Message.parse(text).header.getField(10).toString()),
              ),
            ),
        ),
      ),
  },
  {
    name: 'fhir-server',
    isFolder: false,
    async make() {
      const server = await fhirServer();
      const proxy = await tcpProxy(Number(new URL(server.url).port));
      const url = `http://127.0.0.1:${proxy.port}/fhir`;
      return {
        open: () =>
          fhirServerOutlet(FhirServerSettings.parse({ url, batch: 4 }), { ...gateway, secret: () => undefined }),
        received: () => Promise.resolve(server.of('Provenance').map(fromTag)),
        ...behind(proxy, '"transaction"'),
        refuse(reading) {
          server.unwanted = (resource) =>
            resource.identifier?.some((i) => i.value === `${reading}/1`) ? 'not this one' : undefined;
          return Promise.resolve();
        },
        async dispose() {
          await proxy.close();
          await server.close();
        },
      };
    },
  },
  {
    name: 'hl7-mllp',
    isFolder: false,
    async make() {
      const listener = await mllpListener();
      const proxy = await tcpProxy(listener.port);
      return {
        open: () =>
          hl7MllpOutlet(Hl7MllpSettings.parse({ host: '127.0.0.1', port: proxy.port, 'retry-pause': 0 }), gateway),
        received: () => Promise.resolve(oneEach([...listener.stored.keys()].map(fromControlId))),
        ...behind(proxy, 'MSH|'),
        refuse(reading) {
          listener.refuse = (id) => id.startsWith(`${reading}v`);
          return Promise.resolve();
        },
        async dispose() {
          await proxy.close();
          await listener.close();
        },
      };
    },
  },
];
