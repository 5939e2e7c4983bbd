/** The sixth step of the schema: who may use the desk. Rows are made by people, never by `rebuild`. */
export const SCHEMA_6 = `
-- The people who sign in at the desk.
CREATE TABLE operator (
  operator_no INTEGER PRIMARY KEY, -- number in this store
  name        TEXT NOT NULL UNIQUE COLLATE NOCASE, -- as they sign in, and as decisions are signed
  role        TEXT NOT NULL CHECK (role IN ('look', 'work', 'manage')), -- how far they may go
  passphrase  TEXT NOT NULL,    -- scrypt: its parameters, salt and key; never the passphrase itself
  added_at    INTEGER NOT NULL, -- when
  retired_at  INTEGER           -- may not sign in any more since
) STRICT;
`;
