/**
 * The PostgreSQL outlet: every version of a reading as a row, keyed by site, reading and version. A batch is copied into
 * temporary tables and from there into the real ones in one transaction; what is there already stays as it is, so that a
 * batch may come as often as it likes.
 */

import { Fault } from '../../core/fault.ts';
import type { Delivery, Outlet, SendResult } from '../outlet.ts';
import { type Connection, connect, isRefusal, postgresFault, refusalReason } from './connection.ts';
import { valueRows, versionRow } from './copy-rows.ts';
import { prepareScript, VALUE_COLUMNS, VERSION_COLUMNS } from './schema.ts';
import type { PostgresDeps, PostgresSettings } from './settings.ts';

const BATCH = 2000;

const namesOf = (columns: readonly { readonly name: string }[]): string => columns.map((c) => c.name).join(', ');
const VERSION_NAMES = namesOf(VERSION_COLUMNS);
const VALUE_NAMES = namesOf(VALUE_COLUMNS);

/** Makes the outlet. `send` rejects with OUTLET_DOWN, or with OUTLET_INVALID where tables, rights or the site are wrong. */
export function postgresOutlet(settings: PostgresSettings, deps: PostgresDeps): Outlet {
  const { schema } = settings;
  let open: Connection | undefined;

  async function connected(signal: AbortSignal): Promise<Connection> {
    if (open?.isOpen()) return open;
    const fresh = await connect(settings, signal);
    try {
      await claimSite(fresh);
      await fresh.query(`CREATE TEMP TABLE incoming_version ON COMMIT DELETE ROWS AS
          SELECT ${VERSION_NAMES} FROM ${schema}.reading_version WITH NO DATA;
        CREATE TEMP TABLE incoming_value ON COMMIT DELETE ROWS AS
          SELECT ${VALUE_NAMES} FROM ${schema}.reading_value WITH NO DATA`);
    } catch (thrown) {
      fresh.drop();
      throw thrown;
    }
    open = fresh;
    return fresh;
  }

  /** Two gateways with one name would take each other's readings for repeats of their own. */
  async function claimSite(connection: Connection): Promise<void> {
    await connection.query(`INSERT INTO ${schema}.site (site, gateway) VALUES ($1, $2) ON CONFLICT DO NOTHING`, [
      deps.site,
      deps.gateway,
    ]);
    const [row] = await connection.query(`SELECT gateway FROM ${schema}.site WHERE site = $1`, [deps.site]);
    if (row?.['gateway'] !== deps.gateway)
      throw new Fault(
        'OUTLET_INVALID',
        `Another gateway sends as site "${deps.site}" already`,
        'Give this one a site name of its own in config.toml; after a new start of the same site, its row in table site can be deleted',
      );
  }

  /** Stores a batch in one transaction. Where one of it is refused, it is halved until that one stands alone. */
  async function store(batch: readonly Delivery[], connection: Connection): Promise<SendResult[]> {
    try {
      await connection.query('BEGIN');
      await connection.copy(`COPY incoming_version (${VERSION_NAMES}) FROM STDIN`, batch.map(versionRow).join(''));
      await connection.copy(`COPY incoming_value (${VALUE_NAMES}) FROM STDIN`, batch.map(valueRows).join(''));
      await connection.query(
        `INSERT INTO ${schema}.reading_version (site, ${VERSION_NAMES}) SELECT $1, ${VERSION_NAMES} FROM incoming_version
          ON CONFLICT DO NOTHING`,
        [deps.site],
      );
      await connection.query(
        `INSERT INTO ${schema}.reading_value (site, ${VALUE_NAMES}) SELECT $1, ${VALUE_NAMES} FROM incoming_value
          ON CONFLICT DO NOTHING`,
        [deps.site],
      );
      await connection.query('COMMIT');
      return batch.map(() => ({ kind: 'taken' }));
    } catch (thrown) {
      if (!isRefusal(thrown)) throw thrown;
      await connection.query('ROLLBACK');
      if (batch.length === 1) return [{ kind: 'refused', reason: refusalReason(thrown) }];
      const half = Math.ceil(batch.length / 2);
      const first = await store(batch.slice(0, half), connection);
      return [...first, ...(await store(batch.slice(half), connection))];
    }
  }

  return {
    batchSize: BATCH,
    async send(batch, signal) {
      const giveUp = (): void => open?.drop();
      signal.addEventListener('abort', giveUp);
      try {
        signal.throwIfAborted();
        const connection = await connected(signal);
        signal.throwIfAborted();
        return batch.length === 0 ? [] : await store(batch, connection);
      } catch (thrown) {
        open?.drop();
        open = undefined;
        throw postgresFault(thrown, settings);
      } finally {
        signal.removeEventListener('abort', giveUp);
      }
    },
    async close() {
      const leaving = open;
      open = undefined;
      await leaving?.close();
    },
  };
}

/** Makes the tables and views, or leaves them as they are. Rejects with OUTLET_DOWN or OUTLET_INVALID. */
export async function preparePostgres(settings: PostgresSettings, partitions: number): Promise<void> {
  try {
    const connection = await connect(settings);
    try {
      await connection.query(`BEGIN; ${prepareScript(settings.schema, partitions)} COMMIT`);
    } finally {
      await connection.close();
    }
  } catch (thrown) {
    throw postgresFault(thrown, settings);
  }
}
