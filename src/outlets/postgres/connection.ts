/**
 * One connection to the database, made when it is needed and given up at the first trouble. Its errors are always heard:
 * an error event that nobody hears would end the program.
 */
import { readFileSync } from 'node:fs';
import { Socket } from 'node:net';
import { finished } from 'node:stream/promises';
import { checkServerIdentity } from 'node:tls';
import { Client, type ClientConfig, DatabaseError } from 'pg';
import { from as copyFrom } from 'pg-copy-streams';
import { Fault } from '../../core/fault.ts';
import { readSecret } from '../secret.ts';
import { type PostgresSettings, passwordSource } from './settings.ts';

const CONNECT_MS = 10_000;
/** The server itself gives up a statement after this. */
const STATEMENT_MS = 60_000;

export interface Connection {
  /** Runs a statement, or a script of several where there are no values. */
  query(sql: string, values?: readonly unknown[]): Promise<Record<string, unknown>[]>;
  /** Hands rows in COPY's text format to a `COPY … FROM STDIN`. */
  copy(sql: string, rows: string): Promise<void>;
  /** False once the server or the network has ended it. */
  isOpen(): boolean;
  /** Ends it at once. */
  drop(): void;
  /** Takes leave of the server. */
  close(): Promise<void>;
}

/** Connects. Rejects with what the driver or the system threw, or with OUTLET_INVALID for a missing secret or file. */
export async function connect(settings: PostgresSettings, signal?: AbortSignal): Promise<Connection> {
  const socket = new Socket();
  const giveUp = (): unknown => socket.destroy();
  signal?.addEventListener('abort', giveUp);
  const client = new Client({ ...configOf(settings), stream: () => socket });
  let isOpen = true;
  const over = (): void => {
    isOpen = false;
  };
  client.on('error', over).on('end', over);
  try {
    await client.connect();
  } catch (thrown) {
    socket.destroy();
    throw thrown;
  } finally {
    signal?.removeEventListener('abort', giveUp);
  }
  return {
    async query(sql, values) {
      const { rows } = await client.query<Record<string, unknown>>(sql, values ? [...values] : undefined);
      return rows;
    },
    async copy(sql, rows) {
      const stream = client.query(copyFrom(sql));
      const done = finished(stream);
      stream.end(rows);
      await done;
    },
    isOpen: () => isOpen,
    drop() {
      over();
      socket.destroy();
    },
    async close() {
      over();
      await client.end().catch(() => {}); // it had ended already
    },
  };
}

function configOf(settings: PostgresSettings): ClientConfig {
  const source = passwordSource(settings);
  const { host, port, database, user } = settings;
  return {
    host,
    port,
    database,
    user,
    ...(source ? { password: readSecret(source) } : {}),
    ssl: tlsOf(settings),
    connectionTimeoutMillis: CONNECT_MS,
    statement_timeout: STATEMENT_MS,
    keepAlive: true,
    application_name: 'tallydock',
  };
}

function tlsOf(settings: PostgresSettings): NonNullable<ClientConfig['ssl']> {
  const file = settings['tls-ca'];
  if (settings.tls === 'off') return false;
  const ca = file === undefined ? {} : { ca: readCertificates(file) };
  return {
    ...ca,
    rejectUnauthorized: settings.tls === 'verify',
    // Over a socket of our own Node would compare with another name where the host is a bare address.
    checkServerIdentity: (_, certificate) => checkServerIdentity(settings.host, certificate),
  };
}

function readCertificates(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch (cause) {
    throw new Fault('OUTLET_INVALID', `${file} cannot be read`, 'Check the setting tls-ca and the rights of the file', {
      cause,
    });
  }
}

/** True where the database refused the content of a row: sending it again would change nothing. */
export function isRefusal(thrown: unknown): thrown is DatabaseError {
  if (!(thrown instanceof DatabaseError) || thrown.code === undefined) return false;
  // A row for which there is no partition is the fault of the tables, not of the row: it names no constraint.
  if (thrown.code === '23514' && thrown.constraint === undefined) return false;
  // Classes 22 (data exception) and 23 (integrity constraint), and a trigger's own RAISE EXCEPTION.
  return /^(22|23|P0001)/.test(thrown.code);
}

/** What a database error says, without the contents of rows that its detail may hold. */
export const refusalReason = (error: DatabaseError): string => `${error.message} [${error.code}]`;

/** What stopped the work, as a fault with a next step. */
export function postgresFault(thrown: unknown, { host, port, database, schema }: PostgresSettings): Fault {
  if (thrown instanceof Fault) return thrown;
  const where = `PostgreSQL at ${host}:${port}`;
  const cause = { cause: thrown };
  const message = thrown instanceof Error ? thrown.message : String(thrown);
  const code = thrown instanceof DatabaseError ? (thrown.code ?? '') : '';
  if (code === '42P01' || code === '3F000' || code === '42703')
    return new Fault(
      'OUTLET_INVALID',
      `The tables in schema ${schema} of ${database} are not there, or not as they should be`,
      'Run "tallydock outlet prepare" with the name of this outlet',
      cause,
    );
  if (code === '42501')
    return new Fault(
      'OUTLET_INVALID',
      `${where} does not let this user write: ${message}`,
      'Grant the rights that README names under "Many sites, one database"',
      cause,
    );
  if (/^(28|3D)/.test(code))
    return new Fault(
      'OUTLET_INVALID',
      `${where} does not let this user in: ${message}`,
      'Check user, password and database',
      cause,
    );
  return new Fault(
    'OUTLET_DOWN',
    `${where} cannot be used now: ${message}`,
    'Check that the server runs and the network is there: the readings wait and go on by themselves',
    cause,
  );
}
