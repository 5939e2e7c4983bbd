/**
 * The fourth step of the schema: outlets, and how far each has worked through the log of changes. Rows here are made by
 * persons and by the driver of the outlets, never by `rebuild`. No secret is ever in them. Beside it stands what is left
 * of readings that are none any more: an outlet that has one must be able to take it back.
 */
export const SCHEMA_4 = `
-- Where readings are forwarded to.
CREATE TABLE outlet (
  outlet_no     INTEGER PRIMARY KEY AUTOINCREMENT, -- number in this store, never used twice
  name          TEXT NOT NULL UNIQUE, -- as people call it
  kind          TEXT NOT NULL,    -- what it is: csv, postgres and so on
  settings      TEXT NOT NULL,    -- JSON object of texts: where it is; secrets only by the name of a variable or file
  filter        TEXT NOT NULL,    -- JSON object: which readings it wants, and whether without names
  state         TEXT NOT NULL CHECK (state IN ('running', 'paused')), -- paused: nothing is sent, everything waits
  cursor_seq    INTEGER NOT NULL, -- every row of the log up to this one is dealt with
  offered_seq   INTEGER NOT NULL, -- the newest row that was ever handed over, or begun to be
  failures      INTEGER NOT NULL, -- tries in a row that it could not be reached
  next_try_at   INTEGER,          -- not tried again before; null: at once
  error_code    TEXT,             -- why the last try failed; null where it did not
  error_message TEXT,             -- the same as a sentence
  error_hint    TEXT,             -- what to do about it
  error_at      INTEGER,          -- since when it fails for this reason
  sent_at       INTEGER,          -- when it last took something
  sent_count    INTEGER NOT NULL, -- how many it took so far
  added_by      TEXT NOT NULL,    -- who added it
  added_at      INTEGER NOT NULL  -- when
) STRICT;

-- Readings that a receiver refused for their content. The rest goes on; a newer version of the reading takes its place.
CREATE TABLE set_aside (
  outlet_no  INTEGER NOT NULL REFERENCES outlet ON DELETE CASCADE, -- the outlet
  reading_id TEXT NOT NULL,    -- the reading
  seq        INTEGER NOT NULL, -- its row in the log
  version    INTEGER NOT NULL, -- the version that was refused
  reason     TEXT NOT NULL,    -- in the receiver's words
  at         INTEGER NOT NULL, -- when it was last refused
  tries      INTEGER NOT NULL, -- how often it was refused
  again      INTEGER NOT NULL, -- 1: somebody asked for another try
  PRIMARY KEY (outlet_no, reading_id)
) STRICT, WITHOUT ROWID;

-- Rows of the log up to offered_seq whose version an outlet never had: a newer one was there first, or it was refused.
CREATE TABLE outlet_gap (
  outlet_no  INTEGER NOT NULL REFERENCES outlet ON DELETE CASCADE, -- the outlet
  reading_id TEXT NOT NULL,    -- the reading
  version    INTEGER NOT NULL, -- the version
  PRIMARY KEY (outlet_no, reading_id, version)
) STRICT, WITHOUT ROWID;

-- De-identified outlets: the day from which the days of a person, or of a meter where there is no person, are counted.
CREATE TABLE outlet_day_zero (
  outlet_no INTEGER NOT NULL REFERENCES outlet ON DELETE CASCADE, -- the outlet
  subject   TEXT NOT NULL,     -- p and the person's number, or m and the meter's
  day       INTEGER NOT NULL,  -- local day, counted from 1970-01-01
  PRIMARY KEY (outlet_no, subject)
) STRICT, WITHOUT ROWID;

-- Readings that are none any more: two were found to be the same test.
CREATE TABLE retired (
  reading_id TEXT PRIMARY KEY, -- the reading
  meter_no   INTEGER NOT NULL, -- the meter
  kind       TEXT NOT NULL,    -- patient, control, error
  taken_at   INTEGER,          -- as it was placed
  lot        TEXT,             -- strip lot
  measured   TEXT NOT NULL     -- JSON list of {analyte, value, unit}; of a reading lost in a rebuild only the leading one
) STRICT, WITHOUT ROWID;
CREATE TRIGGER judged_retired BEFORE DELETE ON judged BEGIN
  INSERT OR IGNORE INTO retired VALUES (OLD.reading_id, OLD.meter_no, OLD.kind, OLD.taken_at, OLD.lot,
    CASE WHEN OLD.analyte IS NULL THEN '[]' ELSE json_array(json_object(
      'analyte', OLD.analyte, 'value', coalesce(OLD.beyond, '') || coalesce(OLD.value, ''), 'unit', '')) END);
END;
`;
