/** The one function of pg-copy-streams 7.0.0 that is used here; the package brings no types. */
declare module 'pg-copy-streams' {
  import type { Writable } from 'node:stream';
  import type { Submittable } from 'pg';

  /** A stream for `COPY … FROM STDIN`: handed to `client.query`, then written and ended. */
  export function from(sql: string): Writable & Submittable;
}
