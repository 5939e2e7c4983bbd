/** The fifth step of the schema: which memory a download told, where two meters were found to share one name. */
export const SCHEMA_5 = `
-- Several memories may be told under one name: a meter was emptied, or two meters say the same name.
ALTER TABLE download ADD COLUMN memory INTEGER NOT NULL DEFAULT 0; -- number of the memory under its meter's name, from 0
`;
