/** What the guards find out about a request before its route sees it. */
import type { Context } from 'hono';
import type { RecordContext } from '../record/context.ts';
import type { Role } from './api/state.ts';

export interface DeskEnv {
  readonly Variables: {
    /** Who is signed in. */
    operator: { readonly name: string; readonly role: Role };
    /** Who changes the record, when, by which rules. */
    record: RecordContext;
  };
}

/** One request at a route of the desk. */
export type DeskContext = Context<DeskEnv>;
