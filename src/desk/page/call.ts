/** Asks the desk's server. An answer that is no success is thrown as a `Refusal` with its stable code. */
import type { DeskError } from '../api/state.ts';

/** Why the server did not do it. `code` `AWAY`: it did not answer at all; `PAGE`: the page says so itself, in its own words. */
export class Refusal extends Error {
  readonly code: string;
  readonly hint: string;
  /** After so many seconds it may be tried again, where the server says so. */
  readonly restS: number;
  constructor(code: string, message: string, hint: string, restS = 0) {
    super(message);
    this.code = code;
    this.hint = hint;
    this.restS = restS;
  }
}

const lockedListeners = new Set<() => void>();

/** Calls back when the server says that nobody is signed in any more. */
export function onLocked(listener: () => void): () => void {
  lockedListeners.add(listener);
  return () => lockedListeners.delete(listener);
}

async function call<T>(method: string, path: string, body?: unknown): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(path, {
      method,
      // No other site's page can send this header without asking first.
      headers: { 'x-tallydock': '1', ...(body === undefined ? {} : { 'content-type': 'application/json' }) },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      cache: 'no-store',
    });
  } catch {
    throw new Refusal('AWAY', 'tallydock does not answer', '');
  }
  const said: unknown = await answer.json().catch(() => undefined);
  if (answer.ok) return said as T;
  const { code, message, hint } = isDeskError(said)
    ? said.error
    : { code: 'INTERNAL', message: `${answer.status}`, hint: '' };
  if (code === 'SIGN_IN_NEEDED') for (const listener of lockedListeners) listener();
  throw new Refusal(code, message, hint, Number(answer.headers.get('retry-after') ?? 0));
}

const isDeskError = (said: unknown): said is DeskError =>
  typeof said === 'object' && said !== null && 'error' in said && typeof said.error === 'object';

export const get = <T>(path: string): Promise<T> => call<T>('GET', path);
export const post = <T>(path: string, body: unknown): Promise<T> => call<T>('POST', path, body);
export const put = <T>(path: string, body: unknown): Promise<T> => call<T>('PUT', path, body);
export const remove = <T>(path: string): Promise<T> => call<T>('DELETE', path);
