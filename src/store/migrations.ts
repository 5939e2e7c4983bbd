/**
 * The steps from an empty file to the schema of today, in order. The number of steps done is the file's user_version.
 * A step, once released, is never edited: a change of the schema is a new step.
 */
import { SCHEMA_1 } from './schema-1.ts';
import { SCHEMA_2 } from './schema-2.ts';
import { SCHEMA_3 } from './schema-3.ts';
import { SCHEMA_4 } from './schema-4.ts';
import { SCHEMA_5 } from './schema-5.ts';
import { SCHEMA_6 } from './schema-6.ts';

/** SQL scripts; the first makes version 1. */
export const MIGRATIONS: readonly string[] = [SCHEMA_1, SCHEMA_2, SCHEMA_3, SCHEMA_4, SCHEMA_5, SCHEMA_6];

/** Marks the file as ours in SQLite's header (`application_id`): the letters TDk1. */
export const APPLICATION_ID = 0x54_44_6b_31;
