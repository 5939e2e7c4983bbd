/**
 * One rig for each kind of outlet: a real receiver at the other end that can be taken away, slowed down, made to refuse
 * one reading, and asked what it has. To put another outlet under the contract, write its rig here.
 */
import { mkdirSync, readdirSync, readFileSync, renameSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Hl7Message } from '@medplum/core';
import { parse } from 'csv-parse/sync';
import type { ReadingId } from '../../src/core/reading.ts';
import { type GivenSettings, kindOf } from '../../src/outlets/kinds.ts';
import type { Outlet } from '../../src/outlets/outlet.ts';
import type { PostgresServer } from '../support/postgres.ts';
import { type TcpProxy, tcpProxy } from '../support/tcp-proxy.ts';
import { GATEWAY } from './driven.ts';
import { fhirServer } from './fhir/fhir-server.ts';
import { mllpListener } from './hl7/mllp-listener.ts';

/** What a receiver has of one version of a reading. */
export interface Received {
  readonly reading: ReadingId;
  readonly version: number;
  readonly isWithdrawn: boolean;
}

export interface Rig {
  /** Kind and settings, for a program of its own that opens the outlet. */
  readonly setup: { readonly kind: string; readonly given: GivenSettings };
  /** A fresh outlet, as after a start of the program. */
  open(): Promise<Outlet>;
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

/** Kind and settings of a rig, and how it is opened. */
const opening = (kind: string, given: GivenSettings): Pick<Rig, 'setup' | 'open'> => ({
  setup: { kind, given },
  open: () => kindOf(kind).open(given, GATEWAY),
});

/**
 * A rig whose receiver is a folder behind a link. It is taken away by a file that takes the link's place in one move: an
 * outlet that is just making its folder never gets in between.
 */
function folderRig(
  kind: string,
  folder: string,
  given: GivenSettings,
  received: (inner: string) => Received[],
): Promise<Rig> {
  const real = join(folder, 'real');
  const inner = join(folder, 'out');
  const spare = join(folder, 'spare');
  mkdirSync(real, { recursive: true });
  symlinkSync(real, inner, 'junction');
  return Promise.resolve({
    ...opening(kind, { ...given, folder: inner }),
    received: () => Promise.resolve(received(real)),
    takeAway() {
      writeFileSync(spare, '');
      renameSync(spare, inner);
      return Promise.resolve();
    },
    bringBack() {
      symlinkSync(real, spare, 'junction');
      renameSync(spare, inner);
      return Promise.resolve();
    },
    dispose: () => Promise.resolve(),
  });
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
      const given = {
        host: '127.0.0.1',
        port: String(proxy.port),
        database: 'postgres',
        user: 'postgres',
        tls: 'off',
        schema,
      };
      await kindOf('postgres').prepare?.(given, 0);
      return {
        ...opening('postgres', given),
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
    make: (folder) => folderRig('csv', folder, {}, csvVersions),
  },
  {
    name: 'csv, one growing file',
    isFolder: true,
    make: (folder) => folderRig('csv', folder, { files: 'one' }, csvVersions),
  },
  {
    name: 'fhir-file',
    isFolder: true,
    make: (folder) =>
      folderRig('fhir-file', folder, {}, (inner) =>
        files(inner, /\.ndjson$/).flatMap(({ text }) =>
          text
            .split('\n')
            .filter((line) => line.startsWith('{"resourceType":"Provenance"'))
            .map((line) => fromTag(JSON.parse(line))),
        ),
      ),
  },
  {
    name: 'hl7-file',
    isFolder: true,
    make: (folder) =>
      folderRig('hl7-file', folder, {}, (inner) =>
        oneEach(
          files(inner, /\.hl7$/).map(({ text }) =>
            fromControlId(Hl7Message.parse(text).header.getField(10).toString()),
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
        ...opening('fhir-server', { url, batch: '4' }),
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
        ...opening('hl7-mllp', { host: '127.0.0.1', port: String(proxy.port), 'retry-pause': '0' }),
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
