/**
 * The third step of the schema: people, and what is decided about readings. Rows here are made by persons, never by
 * `rebuild`. Readings and meters are named by their ids without foreign keys: ids are for ever, but the rows they name
 * are made afresh by `rebuild`, and a meter may be lent before it was ever read.
 * A row that a person takes back is kept, with the moment in `undone_at`.
 */
export const SCHEMA_3 = `
-- The people whose readings are looked after.
CREATE TABLE patient (
  patient_no INTEGER PRIMARY KEY, -- number in this store
  patient_id TEXT NOT NULL UNIQUE, -- the clinic's own id
  name       TEXT,    -- optional
  birth_year INTEGER, -- optional
  reason     TEXT,    -- reason for treatment, in the clinic's words
  notes      TEXT,    -- free text
  plan_days  INTEGER CHECK (plan_days > 0), -- a test is planned every so many days; null: no plan
  since_ms   INTEGER, -- treatment began; null where not told
  left_ms    INTEGER, -- no longer looked after since; null while they are
  added_at   INTEGER NOT NULL -- when the row was made
) STRICT;

-- Target ranges. One is in force from its moment until the next one of the same person.
CREATE TABLE target (
  target_no  INTEGER PRIMARY KEY, -- number in this store
  patient_no INTEGER NOT NULL REFERENCES patient, -- the person
  from_ms    INTEGER NOT NULL, -- in force from
  low        TEXT NOT NULL,    -- lower limit as written, inclusive
  high       TEXT NOT NULL,    -- upper limit as written, inclusive
  set_by     TEXT NOT NULL,    -- who set it
  set_at     INTEGER NOT NULL, -- when it was entered
  undone_at  INTEGER           -- taken back
) STRICT;
CREATE INDEX target_by_patient ON target (patient_no, from_ms);

-- Meters lent to people: readings made meanwhile are theirs.
CREATE TABLE lend (
  lend_no    INTEGER PRIMARY KEY, -- number in this store
  meter_id   TEXT NOT NULL, -- serial number as the meter says
  model      TEXT,          -- null: whichever model has this serial number
  patient_no INTEGER NOT NULL REFERENCES patient, -- the person
  from_ms    INTEGER NOT NULL, -- lent from
  to_ms      INTEGER,          -- returned; null: still lent
  lent_by    TEXT NOT NULL,    -- who entered it
  lent_at    INTEGER NOT NULL, -- when it was entered
  undone_at  INTEGER           -- taken back: never happened
) STRICT;
CREATE INDEX lend_by_meter ON lend (meter_id, from_ms);
CREATE INDEX lend_by_patient ON lend (patient_no);

-- A person who is added is given the readings for which their id was keyed in.
CREATE INDEX reading_by_keyed ON reading (keyed_patient) WHERE keyed_patient IS NOT NULL;

-- The day's appointments: they propose whose a reading of a shared meter is.
CREATE TABLE appointment (
  at_ms      INTEGER NOT NULL, -- when the person is expected
  patient_no INTEGER NOT NULL REFERENCES patient, -- the person
  PRIMARY KEY (at_ms, patient_no)
) STRICT, WITHOUT ROWID;

-- What a person decided about a reading. Rows are added; one that is taken back is marked.
CREATE TABLE decision (
  decision_no INTEGER PRIMARY KEY, -- number in this store, in the order in which they were made
  reading_id  TEXT NOT NULL, -- the reading
  kind        TEXT NOT NULL CHECK (kind IN ('assign', 'release', 'void', 'level')), -- whose it is; may go on; is struck out; which control it was
  patient_no  INTEGER REFERENCES patient, -- assign: the person; null: nobody of ours
  level_no    INTEGER REFERENCES control_level, -- level: the control
  holds       TEXT NOT NULL, -- release: the reasons that were looked at, stable words separated by spaces
  reason      TEXT NOT NULL, -- in the operator's words
  made_by     TEXT NOT NULL, -- the operator
  made_at     INTEGER NOT NULL, -- when
  undone_by   TEXT,    -- who took it back
  undone_at   INTEGER, -- when
  undone_why  TEXT     -- why
) STRICT;
CREATE INDEX decision_by_reading ON decision (reading_id);

-- Strip lots.
CREATE TABLE strip_lot (
  lot      TEXT PRIMARY KEY, -- as printed
  expiry   TEXT,             -- YYYY-MM-DD or YYYY-MM
  code     TEXT,             -- what is keyed into the meter
  isi      TEXT,             -- international sensitivity index, as printed
  mnpt     TEXT,             -- mean normal prothrombin time, seconds, as printed
  added_by TEXT NOT NULL,    -- who entered it
  added_at INTEGER NOT NULL  -- when
) STRICT, WITHOUT ROWID;

-- Control materials: one level of one lot.
CREATE TABLE control_level (
  level_no  INTEGER PRIMARY KEY, -- number in this store
  lot       TEXT NOT NULL, -- lot of the control material
  level     TEXT NOT NULL, -- its name, such as 1 or high
  analyte   TEXT NOT NULL, -- INR and so on
  kind      TEXT NOT NULL CHECK (kind IN ('liquid', 'electronic')), -- tests strip, meter and hand; or the meter alone
  mean      TEXT,          -- as given; null where only a range is
  sd        TEXT,          -- as given
  low       TEXT,          -- printed range
  high      TEXT,          -- printed range
  range_sd  REAL NOT NULL, -- how many standard deviations the printed range means on either side: 2 or 3
  expiry    TEXT,          -- YYYY-MM-DD or YYYY-MM
  added_by  TEXT NOT NULL, -- who entered it
  added_at  INTEGER NOT NULL, -- when
  UNIQUE (lot, level, analyte),
  CHECK ((mean IS NOT NULL AND sd IS NOT NULL) OR (low IS NOT NULL AND high IS NOT NULL))
) STRICT;

-- Values of the laboratory, to compare meters with.
CREATE TABLE lab_value (
  lab_no     INTEGER PRIMARY KEY, -- number in this store
  patient_no INTEGER NOT NULL REFERENCES patient, -- the person
  at_ms      INTEGER NOT NULL, -- when the sample was taken
  analyte    TEXT NOT NULL, -- INR and so on
  value      TEXT NOT NULL, -- as given, with < or > if any
  laboratory TEXT NOT NULL, -- its name, or empty
  added_by   TEXT NOT NULL, -- who entered it
  added_at   INTEGER NOT NULL, -- when
  undone_at  INTEGER,       -- taken back
  UNIQUE (patient_no, at_ms, analyte)
) STRICT;

-- What is believed of each reading now: whose it is, and whether it may go on. Made again from everything above.
CREATE TABLE judged (
  reading_id  TEXT PRIMARY KEY, -- the reading
  version     INTEGER NOT NULL, -- from 1; grows whenever what outlets are told has changed
  meter_no    INTEGER NOT NULL, -- the meter
  kind        TEXT NOT NULL,    -- patient, control, error
  patient_no  INTEGER,          -- whose it is; null where not known
  basis       TEXT CHECK (basis IN ('lent', 'keyed', 'confirmed')), -- how that is known
  proposed_no INTEGER,          -- a person who is proposed and waits for a word
  level_no    INTEGER,          -- control test: which control it was
  status      TEXT NOT NULL CHECK (status IN ('settled', 'provisional', 'held', 'void')), -- may it go on
  holds       TEXT NOT NULL,    -- JSON list of {code, sentence}: why it waits; also those that were released
  taken_at    INTEGER,          -- as placed
  earliest    INTEGER,          -- as placed
  latest      INTEGER,          -- as placed
  lot         TEXT,             -- strip lot
  analyte     TEXT,             -- of its leading value
  value       REAL,             -- its leading value as a number
  beyond      TEXT CHECK (beyond IN ('<', '>')), -- the true value lies beyond it
  standing    TEXT,             -- against the target in force at its time
  digest      TEXT NOT NULL     -- of all that outlets are told
) STRICT, WITHOUT ROWID;
CREATE INDEX judged_by_patient ON judged (patient_no, taken_at) WHERE patient_no IS NOT NULL;
CREATE INDEX judged_held ON judged (reading_id) WHERE status = 'held';
CREATE INDEX judged_by_meter ON judged (meter_no, taken_at);
CREATE INDEX judged_by_time ON judged (kind, taken_at);

-- Every version of every reading in the order in which they came about: what outlets work through.
CREATE TABLE outgoing (
  seq        INTEGER PRIMARY KEY AUTOINCREMENT, -- place in the log, never used twice
  reading_id TEXT NOT NULL,    -- the reading
  version    INTEGER NOT NULL, -- its version
  at         INTEGER NOT NULL, -- when it came about
  status     TEXT NOT NULL,    -- settled, provisional, held, void
  patient_no INTEGER,          -- whose it was at this version
  UNIQUE (reading_id, version)
) STRICT;
`;
