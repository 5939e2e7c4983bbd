/** What a request says, checked: a body of JSON, or what stands behind the question mark. */
import type { z } from 'zod';
import { Fault } from '../core/fault.ts';
import type { DeskContext } from './env.ts';

/** Longest body in bytes. A day's list of appointments is far smaller. */
export const MAX_BODY_BYTES = 1_048_576;

const HINT = 'Correct it, or load the page again.';

/** The body of a request. Throws REQUEST_WRONG, which names the field. */
export async function readBody<T>(c: DeskContext, schema: z.ZodType<T>): Promise<T> {
  if (!/^application\/json\b/.test(c.req.header('content-type') ?? ''))
    throw new Fault('REQUEST_WRONG', 'The request is no JSON', HINT);
  let body: unknown;
  try {
    body = JSON.parse(await c.req.text());
  } catch (cause) {
    throw new Fault('REQUEST_WRONG', 'The request is no JSON', HINT, { cause });
  }
  return checked(body, schema);
}

/** What stands behind the question mark. Throws REQUEST_WRONG, which names the field. */
export const readQuery = <T>(c: DeskContext, schema: z.ZodType<T>): T => checked(c.req.query(), schema);

function checked<T>(given: unknown, schema: z.ZodType<T>): T {
  const parsed = schema.safeParse(given);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  const path = issue?.code === 'unrecognized_keys' ? [...issue.path, issue.keys[0] ?? ''] : (issue?.path ?? []);
  const what = issue?.code === 'unrecognized_keys' ? 'is not known' : `is wrong: ${issue?.message ?? ''}`;
  throw new Fault('REQUEST_WRONG', `"${path.join('.')}" ${what}`, HINT);
}
