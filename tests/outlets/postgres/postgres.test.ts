/** Many sites, one database: what only PostgreSQL has, against a real server. */
import { execFileSync } from 'node:child_process';
import { chmodSync, chownSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import type { ReadingId } from '../../../src/core/reading.ts';
import { valueRows, versionRow } from '../../../src/outlets/postgres/copy-rows.ts';
import { postgresOutlet, preparePostgres } from '../../../src/outlets/postgres/postgres-outlet.ts';
import { VALUE_COLUMNS, VERSION_COLUMNS } from '../../../src/outlets/postgres/schema.ts';
import { PostgresSettings } from '../../../src/outlets/postgres/settings.ts';
import { chanceFrom } from '../../../src/virtual/chance.ts';
import { canMount, smallDisk } from '../../faults/small-disk.ts';
import { tempFolder } from '../../store/temp-store.ts';
import { makePostgres, type PostgresServer } from '../../support/postgres.ts';
import { seedOr } from '../../support/seed.ts';
import { addOutlet, workOffAll } from '../driven.ts';
import { type MadeStore, madeStore } from '../made-store.ts';

const SEED = seedOr(20260301);

let server: PostgresServer;
beforeAll(async () => {
  server = await makePostgres();
}, 60_000);
afterAll(() => server.dispose());

const settingsFor = (schema: string, more: object = {}) =>
  PostgresSettings.parse({
    host: '127.0.0.1',
    port: server.port,
    database: 'postgres',
    user: 'postgres',
    tls: 'off',
    schema,
    ...more,
  });

/** A gateway with an outlet of its own to the shared server. */
function gateway(
  site: string,
  schema: string,
  mark = site,
): MadeStore & { work(): Promise<unknown>; readonly outletNo: number } {
  const made = madeStore(tempFolder());
  const outlet = postgresOutlet(settingsFor(schema), { site, gateway: mark });
  const outletNo = addOutlet(made.store);
  onTestFinished(async () => {
    await outlet.close();
    made.store.close();
  });
  return { ...made, outletNo, work: () => workOffAll(made.store, outletNo, outlet) };
}

/** What the server has of a site: each reading's newest version, and how many rows there are in all. */
async function latestOf(schema: string, site: string): Promise<Map<string, number>> {
  const rows = await server.query(`SELECT reading_id, version FROM ${schema}.reading_latest WHERE site = '${site}'`);
  return new Map(rows.map((row) => [String(row['reading_id']), Number(row['version'])]));
}
const clearOf = ({ store }: MadeStore): Map<string, number> =>
  new Map(store.judged.list({ status: 'settled' }).map((j) => [j.reading as string, j.version]));

describe('two gateways and one server', () => {
  it(`have identical content in the end and nothing twice, although the server is killed in between (SEED=${SEED})`, async () => {
    await preparePostgres(settingsFor('two'), 0);
    const chance = chanceFrom(SEED);
    const gateways = [gateway('Port Alder', 'two'), gateway('Harbour', 'two')];
    const ids: ReadingId[][] = [[], []];
    for (let round = 0; round < 8; round++) {
      for (const [i, one] of gateways.entries()) {
        ids[i]?.push(...one.add(chance.whole(50, 400)));
        const changed = ids[i]?.[chance.whole(0, (ids[i]?.length ?? 1) - 1)];
        if (changed) one.change(changed, { status: chance.happens(0.5) ? 'held' : 'settled' });
      }
      // Both send, and the server dies somewhere in it.
      const sending = gateways.map((one) => one.work().catch((thrown: unknown) => thrown));
      if (round % 2 === 0) {
        await new Promise((resolve) => setTimeout(resolve, chance.between(0, 120)));
        await server.kill();
        await Promise.all(sending);
        await server.start();
      }
      await Promise.all(sending);
    }
    for (const one of gateways) await one.work();
    for (const [i, site] of ['Port Alder', 'Harbour'].entries()) {
      const one = gateways[i];
      if (!one) throw new Error('no gateway');
      expect(await latestOf('two', site)).toEqual(clearOf(one));
    }
    const [doubles] = await server.query(`SELECT count(*) - count(DISTINCT (site, reading_id, version)) AS n,
        count(*) AS rows FROM two.reading_version`);
    expect(doubles?.['n']).toBe('0');
    const [torn] = await server.query(`SELECT count(*) AS n FROM two.reading_version v WHERE 2 <> (SELECT count(*)
        FROM two.reading_value w WHERE (w.site, w.reading_id, w.version) = (v.site, v.reading_id, v.version))`);
    expect(torn?.['n']).toBe('0');
  }, 120_000);

  it('cannot both be the same site: their readings have the same ids', async () => {
    await preparePostgres(settingsFor('claimed'), 0);
    const first = gateway('Port Alder', 'claimed', 'one mark');
    first.add(1);
    await first.work();
    const second = gateway('Port Alder', 'claimed', 'another mark');
    second.add(1);
    await expect(second.work()).rejects.toMatchObject({
      code: 'OUTLET_INVALID',
      message: expect.stringContaining('Another gateway'),
    });
  });
});

describe('the tables', () => {
  it('explain themselves: every table, view and column has a comment', async () => {
    await preparePostgres(settingsFor('explained'), 0);
    const bare =
      await server.query(`SELECT c.relname, a.attname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND c.relkind = 'r'
      WHERE n.nspname = 'explained' AND c.relkind IN ('r', 'v')
        AND (obj_description(c.oid) IS NULL OR (a.attnum IS NOT NULL AND col_description(c.oid, a.attnum) IS NULL))`);
    expect(bare).toEqual([]);
    const [count] =
      await server.query(`SELECT count(*) AS n FROM pg_class c JOIN pg_namespace s ON s.oid = c.relnamespace
      WHERE s.nspname = 'explained' AND c.relkind IN ('r', 'v')`);
    expect(count?.['n']).toBe('6');
  });

  it('may be made again, and split by site into parts', async () => {
    const settings = settingsFor('parted');
    await preparePostgres(settings, 4);
    await preparePostgres(settings, 4);
    const one = gateway('Port Alder', 'parted');
    one.add(30);
    await one.work();
    await preparePostgres(settings, 4);
    expect((await latestOf('parted', 'Port Alder')).size).toBe(30);
    const parts = await server.query(`SELECT inhrelid::regclass::text AS part FROM pg_inherits
      WHERE inhparent = 'parted.reading_version'::regclass`);
    expect(parts).toHaveLength(4);
  });

  it('are missed with a next step where nobody has prepared them', async () => {
    const one = gateway('Port Alder', 'not_there');
    one.add(1);
    await expect(one.work()).rejects.toMatchObject({
      code: 'OUTLET_INVALID',
      hint: expect.stringContaining('outlet prepare'),
    });
  });

  it('do not take a missing partition for the fault of a reading', async () => {
    await preparePostgres(settingsFor('holes'), 2);
    await server.query('DROP TABLE holes.reading_version_0; DROP TABLE holes.reading_version_1');
    const one = gateway('Port Alder', 'holes');
    one.add(2);
    await expect(one.work()).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
    expect(one.store.outlets.setAside(one.outletNo)).toEqual([]);
  });

  it('give what time in range is computed from, and leave out what was withdrawn', async () => {
    await preparePostgres(settingsFor('ranges'), 0);
    const one = gateway('Port Alder', 'ranges');
    const ids = one.add(3, (n) => ({ values: [{ analyte: 'INR', value: n === 1 ? '>8.0' : '2.50', unit: '{INR}' }] }));
    await one.work();
    if (ids[2]) one.change(ids[2], { status: 'void' });
    await one.work();
    const rows = await server.query(
      'SELECT patient_id, inr::text, beyond, target_low::text, target_high::text FROM ranges.time_in_range_input ORDER BY taken_at',
    );
    expect(rows).toEqual([
      { patient_id: 'ALDER-001', inr: '2.50', beyond: null, target_low: '2.0', target_high: '3.0' },
      { patient_id: 'ALDER-002', inr: '8.0', beyond: '>', target_low: '2.0', target_high: '3.0' },
    ]);
  });

  it('hold every text exactly as it was, and refuse what they cannot hold with the reason', async () => {
    await preparePostgres(settingsFor('texts'), 0);
    const one = gateway('Port Alder', 'texts');
    const nasty = ['\\N', 'a\tb', 'line\nbreak', 'quote " and \\', '漢字 é', "'; DROP TABLE", '\r', '{a,b}'];
    const ids = one.add(nasty.length, (n) => ({ lot: nasty[n] ?? '' }));
    const bad = one.add(1, { lot: 'nul \u0000 byte' })[0];
    await one.work();
    const rows = await server.query('SELECT reading_id, lot FROM texts.reading_version ORDER BY log_seq');
    expect(rows).toEqual(ids.map((id, i) => ({ reading_id: id, lot: nasty[i] })));
    expect(one.store.outlets.setAside(one.outletNo)).toMatchObject([
      { reading: bad, reason: expect.stringContaining('invalid byte sequence') },
    ]);
  });

  it('have as many columns as their rows have cells', () => {
    const [first] = madeDelivery();
    if (!first) throw new Error('no delivery');
    expect(versionRow(first).split('\t')).toHaveLength(VERSION_COLUMNS.length);
    expect(valueRows(first).split('\n')[0]?.split('\t')).toHaveLength(VALUE_COLUMNS.length);
  });
});

/** One delivery as a store composes it. */
function madeDelivery() {
  const made = madeStore(tempFolder());
  onTestFinished(() => made.store.close());
  const ids = made.add(1);
  return [...made.store.outgoing.compose(ids).values()].map(({ reading }) => ({ seq: 1, reading, isWithdrawn: false }));
}

describe.skipIf(!canMount)('a server whose disk is full (only where a small disk can be mounted)', () => {
  it('is waited for, and nothing is lost', async () => {
    const disk = smallDisk(12_000);
    const space = join(disk.dir, 'space');
    execFileSync('mkdir', [space]);
    const { uid, gid } = {
      uid: Number(execFileSync('id', ['-u', 'postgres'])),
      gid: Number(execFileSync('id', ['-g', 'postgres'])),
    };
    chmodSync(disk.dir, 0o755);
    chownSync(space, uid, gid);
    expect(statSync(space).uid).toBe(uid);
    await server.query(`CREATE TABLESPACE small LOCATION '${space}'`);
    await preparePostgres(settingsFor('crowded'), 0);
    await server.query('ALTER TABLE crowded.reading_version SET TABLESPACE small');
    const one = gateway('Port Alder', 'crowded');
    one.add(10);
    await one.work();
    disk.fill();
    one.add(500);
    await expect(one.work()).rejects.toMatchObject({
      code: 'OUTLET_DOWN',
      message: expect.stringContaining('No space left'),
    });
    expect(one.store.outlets.setAside(one.outletNo)).toEqual([]);
    disk.clear();
    await one.work();
    expect(await latestOf('crowded', 'Port Alder')).toEqual(clearOf(one));
    await server.query('ALTER TABLE crowded.reading_version SET TABLESPACE pg_default');
    await server.query('DROP TABLESPACE small');
  });
});

describe('TLS', () => {
  it('is spoken where it is wanted, and a server that cannot prove its name is refused', async () => {
    const dir = tempFolder();
    const made = (name: string) => {
      const [key, certificate] = [join(dir, `${name}.key`), join(dir, `${name}.pem`)];
      execFileSync(
        'openssl',
        [
          'req',
          '-x509',
          '-newkey',
          'rsa:2048',
          '-nodes',
          '-days',
          '30',
          '-subj',
          `/CN=${name}`,
          '-addext',
          `subjectAltName=DNS:${name}`,
          '-keyout',
          key,
          '-out',
          certificate,
        ],
        { stdio: 'ignore' },
      );
      return { key, certificate };
    };
    const { key, certificate } = made('localhost');
    const secure = await makePostgres(
      ['ssl=on', `ssl_cert_file=${certificate}`, `ssl_key_file=${key}`],
      [key, certificate, dir],
    );
    onTestFinished(() => secure.dispose());
    const settings = (more: object) =>
      PostgresSettings.parse({
        host: 'localhost',
        port: secure.port,
        database: 'postgres',
        user: 'postgres',
        schema: 'sealed',
        ...more,
      });
    await preparePostgres(settings({ 'tls-ca': certificate }), 0);
    const outlet = postgresOutlet(settings({ 'tls-ca': certificate }), { site: 'Port Alder', gateway: 'a' });
    await outlet.send([], new AbortController().signal);
    expect(
      await secure.query(
        "SELECT ssl FROM pg_stat_ssl JOIN pg_stat_activity USING (pid) WHERE application_name = 'tallydock'",
      ),
    ).toEqual([{ ssl: true }]);
    await outlet.close();
    const refused = (more: object) =>
      expect(preparePostgres(settings(more), 0)).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
    await refused({}); // signed by nobody whom this system trusts
    await refused({ 'tls-ca': made('elsewhere').certificate });
    await refused({ 'tls-ca': certificate, host: '127.0.0.1' }); // the certificate is for another name
    await preparePostgres(settings({ tls: 'require' }), 0);
    expect(readFileSync(certificate, 'utf8')).toContain('BEGIN CERTIFICATE');
  }, 60_000);
});
