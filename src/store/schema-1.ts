/**
 * The first schema of the store. All times named `_at`, `earliest`, `latest`, `from_ms` and `to_ms` are true time in
 * milliseconds since 1970 UTC; `wall` is a meter's own zoneless clock in milliseconds read as if it were UTC. Truth
 * values are 0 or 1. Null means: not told.
 */
export const SCHEMA_1 = `
-- Facts about the store itself.
CREATE TABLE meta (
  key   TEXT PRIMARY KEY, -- name of the fact: created_at
  value TEXT NOT NULL     -- the fact as text
) STRICT, WITHOUT ROWID;

-- One conversation on a port: every byte with its time. The raw truth; every table down to clock_state is made of it.
CREATE TABLE capture (
  capture_no  INTEGER PRIMARY KEY AUTOINCREMENT, -- number in this store, never used twice; download D17 is from capture 17
  source      TEXT NOT NULL CHECK (source IN ('live', 'file')), -- read from a port here, or taken from a capture file
  port        TEXT NOT NULL,    -- as the person named it
  profile     TEXT NOT NULL,    -- name of the meter profile
  zone        TEXT NOT NULL,    -- IANA zone of the dock
  opened_at   INTEGER NOT NULL, -- when the port was opened
  closed_at   INTEGER,          -- when it was closed; null while open, and for ever if the program died
  owner_pid   INTEGER,          -- process that records it or is to take it in; null once taken in
  owner_start TEXT,             -- when that process started, in the platform's own words; null where it cannot be told
  sha256      TEXT UNIQUE,      -- of the capture's text without its closing line; null while open
  arrival     INTEGER UNIQUE,   -- order in which captures were taken in, from 1; null until then
  packed      BLOB              -- all chunks, compressed; null while open (then they are in capture_chunk)
) STRICT;

-- Chunks of captures that are still open.
CREATE TABLE capture_chunk (
  capture_no INTEGER NOT NULL REFERENCES capture, -- the open capture
  n          INTEGER NOT NULL, -- order in the capture, from 0
  at         INTEGER NOT NULL, -- in: when the last byte had arrived; out: when sending began
  dir        TEXT NOT NULL CHECK (dir IN ('in', 'out')), -- in = from the meter
  data       BLOB NOT NULL,    -- the bytes
  PRIMARY KEY (capture_no, n)
) STRICT, WITHOUT ROWID;

-- One meter. Serial number and model together name it.
CREATE TABLE meter (
  meter_no     INTEGER PRIMARY KEY, -- number in this store, in the order in which meters were first seen
  meter_id     TEXT NOT NULL, -- serial number as the meter says
  model        TEXT NOT NULL, -- model as the meter says
  firmware     TEXT,          -- as in its newest download
  memory_order TEXT NOT NULL CHECK (memory_order IN ('newest', 'oldest', 'ring')), -- as in its newest download
  capacity     INTEGER,       -- slots of the memory, as in its newest download
  UNIQUE (model, meter_id)
) STRICT;

-- What one meter told in one conversation.
CREATE TABLE download (
  download_id   TEXT PRIMARY KEY, -- D and the capture's number, with .2, .3 for further meters in one capture
  capture_no    INTEGER NOT NULL REFERENCES capture, -- where its bytes are
  ordinal       INTEGER NOT NULL, -- which meter of that capture, from 0
  meter_no      INTEGER NOT NULL REFERENCES meter, -- the meter
  at            INTEGER NOT NULL, -- when the conversation with this meter began
  until         INTEGER NOT NULL, -- when its last byte was exchanged
  protocol      TEXT NOT NULL CHECK (protocol IN ('line', 'astm')), -- the language it spoke
  profile       TEXT NOT NULL,    -- name of the meter profile
  zone          TEXT NOT NULL,    -- IANA zone of the dock
  port          TEXT NOT NULL,    -- as the person named it
  held          INTEGER,          -- results that the meter says it holds
  loss_count    INTEGER,          -- clock power losses over the meter's life
  reset_wall    INTEGER,          -- what the clock shows after a power loss (wall)
  complete      INTEGER NOT NULL, -- the whole memory was told and proven
  cut           TEXT,             -- why it is not complete, as a stable word
  bytes         INTEGER NOT NULL, -- bytes from and to the meter
  damaged_lines INTEGER NOT NULL, -- lines or frames dropped because their check or form was wrong
  retries       INTEGER NOT NULL, -- questions asked again, or frames refused
  duration_ms   INTEGER NOT NULL, -- how long the conversation took
  clock_off_s   INTEGER,          -- meter's clock minus true local time at the first anchor, whole seconds
  clock_set     INTEGER NOT NULL, -- the gateway set the clock and the reading back agreed
  new_count     INTEGER NOT NULL, -- tests that were not known before
  known_count   INTEGER NOT NULL, -- tests that were known
  vanished      INTEGER NOT NULL, -- tests that were known to be in the memory and no longer are
  possibly_lost INTEGER NOT NULL, -- tests may have been overwritten unread
  run_restarted INTEGER NOT NULL, -- running numbers started again
  doubtful      INTEGER NOT NULL, -- two histories explain the memory equally well
  after_reading TEXT REFERENCES reading DEFERRABLE INITIALLY DEFERRED, -- newest test surely made before this download
  may_precede   INTEGER,          -- how many of the tests after that one may also have been made before; null: unknown
  UNIQUE (capture_no, ordinal)
) STRICT, WITHOUT ROWID;
CREATE INDEX download_by_meter ON download (meter_no, at, capture_no, ordinal);
CREATE INDEX download_by_time ON download (at, capture_no, ordinal);
CREATE INDEX download_after ON download (after_reading) WHERE after_reading IS NOT NULL;

-- What a download proves about the meter's clock, in the order in which it happened.
CREATE TABLE clock_event (
  download_id   TEXT NOT NULL REFERENCES download ON DELETE CASCADE, -- the download
  n             INTEGER NOT NULL, -- order in the download, from 0
  kind          TEXT NOT NULL CHECK (kind IN ('anchor', 'unset', 'set')), -- clock read; clock not set; set by the gateway
  from_ms       INTEGER NOT NULL, -- it happened no earlier than this
  to_ms         INTEGER NOT NULL, -- and no later than this
  wall          INTEGER,          -- anchor: what the clock showed; set: what it was set to
  resolution_ms INTEGER,          -- anchor: the clock showed [wall, wall + this)
  outcome       TEXT CHECK (outcome IN ('confirmed', 'refused', 'unknown')), -- set: what became of it
  PRIMARY KEY (download_id, n)
) STRICT, WITHOUT ROWID;

-- One test. It is here once, however often it was told.
CREATE TABLE reading (
  reading_id        TEXT PRIMARY KEY, -- the download in which it first arrived here, a hyphen, and its place there
  meter_no          INTEGER NOT NULL REFERENCES meter, -- the meter
  position          INTEGER NOT NULL, -- place in the meter's own order of tests, from 0; may move when older tests turn up
  first_download    TEXT NOT NULL REFERENCES download, -- the download that its id names
  earliest_download TEXT NOT NULL REFERENCES download, -- the download earliest in time that told it: it was made before
  place             TEXT NOT NULL, -- place in the first download
  slot              INTEGER,       -- memory slot in the first download
  run_number        INTEGER,       -- running number over the meter's life
  meter_time        TEXT NOT NULL, -- the meter's own stamp, exactly as given; empty where its clock was not set
  wall              INTEGER,       -- the stamp read as a time; null where it is none
  resolution_ms     INTEGER,       -- the stamp means [wall, wall + this)
  kind              TEXT NOT NULL CHECK (kind IN ('patient', 'control', 'error')), -- patient test, control test, failed test
  error_code        TEXT,          -- the meter's error code
  lot               TEXT,          -- strip lot
  lot_expiry        TEXT,          -- YYYY-MM-DD or YYYY-MM
  operator          TEXT,          -- as keyed in
  keyed_patient     TEXT,          -- patient identifier as keyed into the meter
  flags             TEXT NOT NULL, -- the meter's flags and the gateway's, separated by spaces
  loss_count        INTEGER,       -- how often the clock had lost power when the test was made
  extra             TEXT,          -- keys or fields that the program does not know, a JSON object of texts
  status            TEXT NOT NULL CHECK (status IN ('settled', 'provisional')), -- provisional: only in incomplete downloads
  gone              TEXT CHECK (gone IN ('deleted', 'overwritten', 'vanished')), -- how it left the memory; null: still there
  conflict_with     TEXT REFERENCES reading DEFERRABLE INITIALLY DEFERRED -- reading that claims the same place
) STRICT, WITHOUT ROWID;
CREATE INDEX reading_by_meter ON reading (meter_no, position);
CREATE INDEX reading_by_first ON reading (first_download);
CREATE INDEX reading_by_conflict ON reading (conflict_with) WHERE conflict_with IS NOT NULL;

-- The measured quantities of a test.
CREATE TABLE reading_value (
  reading_id TEXT NOT NULL REFERENCES reading ON DELETE CASCADE, -- the test
  n          INTEGER NOT NULL, -- order as told, from 0
  analyte    TEXT NOT NULL,    -- short name, such as INR
  value      TEXT NOT NULL,    -- exactly as the meter gave it, with < or > if any
  unit       TEXT NOT NULL,    -- UCUM, or the meter's own text; empty if none
  PRIMARY KEY (reading_id, n)
) STRICT, WITHOUT ROWID;

-- What the gateway believes about when a test was made. A new version comes when a later download tells more.
CREATE TABLE placement (
  reading_id TEXT NOT NULL REFERENCES reading ON DELETE CASCADE, -- the test
  version    INTEGER NOT NULL, -- from 1; the highest counts
  taken_at   INTEGER,          -- best estimate; null if there is none
  earliest   INTEGER,          -- lower bound; null if open
  latest     INTEGER,          -- upper bound; null if open
  basis      TEXT NOT NULL CHECK (basis IN ('interpolated', 'anchored', 'bounded', 'displayed')), -- see the clock page
  reason     TEXT NOT NULL,    -- one sentence for a nurse
  flags      TEXT NOT NULL,    -- flags of the gateway that come from placing, separated by spaces
  made_by    TEXT NOT NULL REFERENCES download, -- the download after which it was made
  PRIMARY KEY (reading_id, version)
) STRICT, WITHOUT ROWID;

-- What happened to a meter's clock or memory.
CREATE TABLE incident (
  meter_no     INTEGER NOT NULL REFERENCES meter, -- the meter
  source       TEXT NOT NULL CHECK (source IN ('settling', 'clock')), -- which room found it
  n            INTEGER NOT NULL, -- order within meter and source, from 0
  kind         TEXT NOT NULL,    -- power-loss, clock-changed, fast-drift, memory-wrapped, deleted-on-meter
  earliest     INTEGER,          -- it happened no earlier
  latest       INTEGER,          -- and no later
  size_s       REAL,             -- how far the clock jumped, seconds, new minus old
  likely_cause TEXT NOT NULL,    -- plain words, or empty
  explanation  TEXT NOT NULL,    -- plain words
  download_id  TEXT REFERENCES download, -- settling: the download that told it
  PRIMARY KEY (meter_no, source, n)
) STRICT, WITHOUT ROWID;

-- What settling needs to know of a meter's memory at its next download.
CREATE TABLE memory_state (
  meter_no INTEGER PRIMARY KEY REFERENCES meter, -- the meter
  standing TEXT NOT NULL, -- JSON of everything but the tests: small, and another after every download
  sequence TEXT NOT NULL, -- JSON of the tests that may still be in the memory: large, and often the same again
  seal     TEXT NOT NULL  -- sha256 of form and sequence, by which the intake knows its own writing
) STRICT;

-- Where placing can go on at a meter's next download without recomputing the past.
CREATE TABLE clock_state (
  meter_no INTEGER PRIMARY KEY REFERENCES meter, -- the meter
  state    TEXT NOT NULL -- JSON, written by the intake and checked by it when read
) STRICT;

-- Who did what. Append-only; each row holds the SHA-256 of the row before it.
CREATE TABLE audit (
  n       INTEGER PRIMARY KEY, -- from 1, without holes
  at      INTEGER NOT NULL,    -- when
  actor   TEXT NOT NULL,       -- who: the account and program, or a person's sign-in
  action  TEXT NOT NULL,       -- stable word
  subject TEXT NOT NULL,       -- id of what it was done to
  detail  TEXT NOT NULL,       -- JSON object
  before  TEXT NOT NULL,       -- sha256 of the row before; 64 zeros in the first
  sha256  TEXT NOT NULL        -- of this row: before, n, at, actor, action, subject, detail as a JSON array
) STRICT;
CREATE TRIGGER audit_only_grows BEFORE INSERT ON audit WHEN NEW.n <> (SELECT coalesce(max(n), 0) + 1 FROM audit)
  BEGIN SELECT RAISE(ABORT, 'the audit chain only grows at its end'); END;
CREATE TRIGGER audit_keeps_rows BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'the audit chain cannot be changed'); END;
CREATE TRIGGER audit_keeps_length BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'the audit chain cannot be shortened'); END;
`;
