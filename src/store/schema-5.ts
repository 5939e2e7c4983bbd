/** The fifth step of the schema: which memory a download told, where several were told under one meter's name. */
export const SCHEMA_5 = `
-- Downloads that told another memory than the first under their meter's name: it was emptied, or two meters share it.
CREATE TABLE download_memory (
  download_id TEXT PRIMARY KEY REFERENCES download ON DELETE CASCADE, -- the download
  memory      INTEGER NOT NULL CHECK (memory > 0) -- number of the memory, from 1; 0 is the first and has no row
) STRICT, WITHOUT ROWID;
`;
