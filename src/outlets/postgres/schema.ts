/**
 * What `outlet prepare` makes in the database of the head office: tables, views, indexes, and a comment on each of them
 * and on every column, so that the database explains itself. Made again where it is there, nothing is changed.
 */

interface Column {
  readonly name: string;
  readonly type: string;
  readonly comment: string;
}

const column = (name: string, type: string, comment: string): Column => ({ name, type, comment });

/** What names a version of a reading, in both tables. */
const KEY: readonly Column[] = [
  column('reading_id', 'text NOT NULL', 'the reading, stable for ever within its site'),
  column('version', 'integer NOT NULL', 'from 1; the highest counts'),
];

/** The columns of a version that its gateway fills, in the order of the COPY. */
export const VERSION_COLUMNS: readonly Column[] = [
  ...KEY,
  column(
    'is_withdrawn',
    'boolean NOT NULL',
    'must not be used any more: void, held again, or no longer meant for here',
  ),
  column('status', 'text NOT NULL', 'settled, provisional (told only by an incomplete download), held, void'),
  column('kind', 'text NOT NULL', 'patient, control (control test), error (failed test)'),
  column('meter_id', 'text NOT NULL', 'serial number as the meter says'),
  column('meter_model', 'text NOT NULL', 'model as the meter says'),
  column('meter_firmware', 'text', 'firmware as in its newest download'),
  column('patient_id', 'text', "the clinic's own id; null where it is not known whose it is. Names stay at the site"),
  column('birth_year', 'integer', 'year of birth, where the site knows it'),
  column('person_basis', 'text', 'how it is known whose it is: lent, keyed, confirmed'),
  column('target_low', 'numeric', 'lower limit of the target range at its time, inclusive'),
  column('target_high', 'numeric', 'upper limit, inclusive'),
  column(
    'standing',
    'text',
    'against target and critical limits: critical-low, below, in, above, critical-high, no-target',
  ),
  column('error_code', 'text', "the meter's code of a failed test"),
  column('taken_at', 'timestamptz', 'when the test was made, best estimate; null if there is none'),
  column('earliest', 'timestamptz', 'no earlier than this; null if open'),
  column('latest', 'timestamptz', 'no later than this; null if open'),
  column('time_basis', 'text', 'how sure the time is, in falling order: interpolated, anchored, bounded, displayed'),
  column('time_reason', 'text', 'one sentence that explains the time'),
  column('zone', 'text NOT NULL', 'IANA zone of the dock'),
  column('meter_time', 'text', "the meter's own stamp exactly as given; null where its clock was not set"),
  column(
    'clock_off_s',
    'integer',
    "the meter's clock minus true local time at the download that told it first, seconds",
  ),
  column('lot', 'text', 'strip lot'),
  column('lot_expiry', 'text', 'YYYY-MM-DD or YYYY-MM'),
  column('operator', 'text', 'as keyed into the meter'),
  column('flags', 'text[] NOT NULL', "the meter's flags and the gateway's"),
  column('slot', 'integer', 'memory slot in the first download'),
  column('run_number', 'bigint', "running number over the meter's life"),
  column('control_lot', 'text', 'control test: lot of the material'),
  column('control_level', 'text', 'control test: its level'),
  column('control_kind', 'text', 'control test: liquid or electronic'),
  column('first_download', 'text NOT NULL', 'the download that told it first'),
  column('downloaded_at', 'timestamptz NOT NULL', 'when that download began'),
  column('log_seq', 'bigint NOT NULL', "place in the site's log of changes"),
];

/** The columns of a value that its gateway fills, in the order of the COPY. */
export const VALUE_COLUMNS: readonly Column[] = [
  ...KEY,
  column('n', 'smallint NOT NULL', 'order as told, from 0'),
  column('analyte', 'text NOT NULL', 'short name, such as INR'),
  column('value', 'text NOT NULL', 'exactly as the meter gave it, with < or > if any'),
  column('number', 'numeric', 'the same as a number; null where it is none'),
  column('beyond', 'text', '< or > where the true value lies beyond the number'),
  column('unit', 'text NOT NULL', "UCUM, or the meter's own text; empty if none"),
];

const SITE = column('site', 'text NOT NULL', 'the site whose gateway sent it');
const RECEIVED = column('received_at', 'timestamptz NOT NULL DEFAULT now()', 'when it came here');

interface Table {
  readonly name: string;
  readonly comment: string;
  readonly columns: readonly Column[];
  readonly key: string;
}

const TABLES: readonly Table[] = [
  {
    name: 'reading_version',
    comment: 'Every version of every reading, as the gateways of all sites told it. Rows are only ever added.',
    columns: [SITE, ...VERSION_COLUMNS, RECEIVED],
    key: 'site, reading_id, version',
  },
  {
    name: 'reading_value',
    comment: 'The measured values of each version of a reading: one to four, none for a failed test.',
    columns: [SITE, ...VALUE_COLUMNS],
    key: 'site, reading_id, version, n',
  },
];

const SITE_TABLE: Table = {
  name: 'site',
  comment: 'The sites that were ever heard of. A second gateway with the name of another site is refused.',
  columns: [
    column('site', 'text NOT NULL', 'name of the site'),
    column('gateway', 'text NOT NULL', "a mark of its gateway's store"),
    column('first_seen_at', 'timestamptz NOT NULL DEFAULT now()', 'when it first connected'),
  ],
  key: 'site',
};

/** All tables that `outlet prepare` makes, with what their comments say. */
export const POSTGRES_TABLES: readonly Pick<Table, 'name' | 'comment' | 'columns'>[] = [SITE_TABLE, ...TABLES];

interface View {
  readonly name: string;
  readonly comment: string;
  readonly sql: (schema: string) => string;
}

const VIEWS: readonly View[] = [
  {
    name: 'reading_latest',
    comment: 'The newest version of each reading that may be used.',
    sql: (s) => `SELECT v.* FROM ${s}.reading_version v WHERE NOT v.is_withdrawn AND NOT EXISTS (
      SELECT 1 FROM ${s}.reading_version w WHERE w.site = v.site AND w.reading_id = v.reading_id AND w.version > v.version)`,
  },
  {
    name: 'value_latest',
    comment: 'The values of the newest version of each reading that may be used, one row for each value.',
    sql: (
      s,
    ) => `SELECT r.site, r.reading_id, r.version, r.status, r.kind, r.meter_id, r.meter_model, r.patient_id, r.taken_at,
      r.earliest, r.latest, r.time_basis, r.target_low, r.target_high, r.standing, r.lot, r.flags, v.n, v.analyte, v.value,
      v.number, v.beyond, v.unit
      FROM ${s}.reading_latest r JOIN ${s}.reading_value v USING (site, reading_id, version)`,
  },
  {
    name: 'time_in_range_input',
    comment:
      'What time in range is computed from: each INR of each person with its time, its bounds and the target range then.',
    sql: (s) => `SELECT site, patient_id, taken_at, earliest, latest, number AS inr, beyond, target_low, target_high,
      reading_id, version FROM ${s}.value_latest
      WHERE kind = 'patient' AND analyte = 'INR' AND number IS NOT NULL AND patient_id IS NOT NULL AND taken_at IS NOT NULL`,
  },
];

const INDEXES: readonly { readonly name: string; readonly on: string }[] = [
  { name: 'reading_version_by_patient', on: 'reading_version (site, patient_id, taken_at)' },
  { name: 'reading_version_by_time', on: 'reading_version (taken_at)' },
  { name: 'reading_version_by_meter', on: 'reading_version (site, meter_model, meter_id, taken_at)' },
];

const quoted = (text: string): string => `'${text.replaceAll("'", "''")}'`;

/**
 * The script that makes everything in a schema; `partitions` splits both large tables by site into so many parts (0: not).
 * `schema` must be a plain identifier.
 */
export function prepareScript(schema: string, partitions: number): string {
  const table = ({ name, columns, key }: Table, parted: boolean): string[] => [
    `CREATE TABLE IF NOT EXISTS ${schema}.${name} (${columns.map((c) => `${c.name} ${c.type}`).join(', ')},
      PRIMARY KEY (${key}))${parted ? ' PARTITION BY HASH (site)' : ''}`,
    ...(parted
      ? Array.from(
          { length: partitions },
          (_, i) =>
            `CREATE TABLE IF NOT EXISTS ${schema}.${name}_${i} PARTITION OF ${schema}.${name}
              FOR VALUES WITH (MODULUS ${partitions}, REMAINDER ${i})`,
        )
      : []),
  ];
  const explain = ({ name, comment, columns }: Table): string[] => [
    `COMMENT ON TABLE ${schema}.${name} IS ${quoted(comment)}`,
    ...columns.map((c) => `COMMENT ON COLUMN ${schema}.${name}.${c.name} IS ${quoted(c.comment)}`),
  ];
  return [
    `CREATE SCHEMA IF NOT EXISTS ${schema}`,
    `COMMENT ON SCHEMA ${schema} IS ${quoted('Readings of handheld meters from the gateways of many sites.')}`,
    ...table(SITE_TABLE, false),
    ...TABLES.flatMap((t) => table(t, partitions > 0)),
    ...INDEXES.map(({ name, on }) => `CREATE INDEX IF NOT EXISTS ${name} ON ${schema}.${on}`),
    ...VIEWS.flatMap(({ name, comment, sql }) => [
      `CREATE OR REPLACE VIEW ${schema}.${name} AS ${sql(schema)}`,
      `COMMENT ON VIEW ${schema}.${name} IS ${quoted(comment)}`,
    ]),
    ...[SITE_TABLE, ...TABLES].flatMap(explain),
  ]
    .map((statement) => `${statement};\n`)
    .join('');
}
