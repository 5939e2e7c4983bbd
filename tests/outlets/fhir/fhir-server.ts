/**
 * A FHIR server for tests: takes transactions as R4 says (conditional create and update by identifier or tag,
 * all or nothing, 412 where a search finds several, references within the bundle resolved) and can be made to fail.
 * Validates everything that it stores. Written from the R4 text on transactions; shares nothing with the outlet.
 */
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { asStored, problemsOf } from './validators.ts';

type Resource = {
  resourceType: string;
  id?: string;
  identifier?: Coded[];
  meta?: { tag?: Coded[] };
  [key: string]: unknown;
};
type Coded = { system?: string; value?: string; code?: string };
type Entry = { fullUrl: string; resource: Resource; request: { method: string; url: string; ifNoneExist?: string } };
type Bundle = { resourceType: string; type: string; entry: Entry[] };

/** What the server does with a request instead of answering it well. */
export type Mishap =
  | {
      readonly kind: 'status';
      readonly status: number;
      readonly body?: string;
      readonly headers?: Record<string, string>;
    }
  /** Takes the bytes and never answers. */
  | { readonly kind: 'silence' }
  /** Closes the connection before anything is stored. */
  | { readonly kind: 'hang-up' }
  /** Stores everything and closes the connection before it answers. */
  | { readonly kind: 'store-and-hang-up' };

export interface TestServer {
  readonly url: string;
  /** Everything stored, by `Type/id`. */
  readonly stored: ReadonlyMap<string, Resource>;
  readonly requests: { readonly headers: IncomingMessage['headers']; readonly entries: number }[];
  /** Mishaps of the next requests, in their order. */
  readonly mishaps: Mishap[];
  /** Resources that the server does not want: the reason, or undefined. */
  unwanted: (resource: Resource) => string | undefined;
  of(type: string): Resource[];
  /** Puts a resource there as somebody else would have. */
  plant(resource: Resource): void;
  close(): Promise<void>;
}

/** An answer that is no success. */
class Refusal extends Error {
  readonly status: number;
  constructor(status: number, message: string) {
    super(message);
    this.status = status;
  }
}

export async function fhirServer(): Promise<TestServer> {
  const stored = new Map<string, Resource>();
  const requests: TestServer['requests'] = [];
  const mishaps: Mishap[] = [];
  let count = 0;
  const server = createServer((request, response) => void handle(request, response));

  async function handle(request: IncomingMessage, response: ServerResponse): Promise<void> {
    let text = '';
    for await (const chunk of request.setEncoding('utf8')) text += String(chunk);
    const bundle = JSON.parse(text) as Bundle;
    requests.push({ headers: request.headers, entries: bundle.entry.length });
    const mishap = mishaps.shift();
    const answer = (status: number, body: string, headers: Record<string, string> = {}): void => {
      response.writeHead(status, { 'content-type': 'application/fhir+json', ...headers });
      response.end(body);
    };
    if (mishap?.kind === 'status') return answer(mishap.status, mishap.body ?? outcome('made to fail'), mishap.headers);
    if (mishap?.kind === 'silence') return;
    if (mishap?.kind === 'hang-up') return void request.socket.destroy();
    try {
      const entry = transact(bundle);
      if (mishap?.kind === 'store-and-hang-up') return void request.socket.destroy();
      answer(200, JSON.stringify({ resourceType: 'Bundle', type: 'transaction-response', entry }));
    } catch (thrown) {
      if (!(thrown instanceof Refusal)) throw thrown;
      answer(thrown.status, outcome(thrown.message));
    }
  }

  const found = (type: string, search: string): string[] => {
    const query = new URLSearchParams(search);
    const [by = '', token = ''] = [...query][0] ?? [];
    const [system = '', value = ''] = token.split(/(?<!\\)\|/).map((part) => part.replace(/\\(.)/g, '$1'));
    return [...stored]
      .filter(([, r]) => r.resourceType === type)
      .filter(([, r]) =>
        (by === '_tag' ? r.meta?.tag : r.identifier)?.some((c) => c.system === system && (c.value ?? c.code) === value),
      )
      .map(([key]) => key);
  };

  /** Does a transaction wholly or, by throwing, not at all. */
  function transact(bundle: Bundle): { response: { status: string; location: string } }[] {
    const problems = problemsOf(asStored(bundle));
    if (problems.length > 0) throw new Refusal(422, problems.join('; '));
    if (bundle.type !== 'transaction') throw new Refusal(400, 'not a transaction');
    const asked = bundle.entry.map(({ request }) => request.ifNoneExist ?? request.url);
    if (new Set(asked).size < asked.length) throw new Refusal(400, 'two entries are about the same resource');
    const places = new Map<string, string>();
    const writes = new Map<string, Resource>();
    const responses = bundle.entry.map(({ fullUrl, resource, request }) => {
      const reason = made.unwanted(resource);
      if (reason) throw new Refusal(422, reason);
      const [type = '', search = ''] =
        request.method === 'PUT' ? request.url.split('?') : [request.url, request.ifNoneExist ?? ''];
      if (type !== resource.resourceType) throw new Refusal(400, 'the address does not fit the resource');
      const matches = found(type, search);
      if (matches.length > 1) throw new Refusal(412, `several ${type} match`);
      const place = matches[0] ?? `${type}/${++count}`;
      places.set(fullUrl, place);
      if (matches.length === 0 || request.method === 'PUT') writes.set(place, resource);
      return { response: { status: matches.length === 0 ? '201 Created' : '200 OK', location: place } };
    });
    for (const [place, resource] of writes) {
      const text = JSON.stringify(resource).replace(/"urn:uuid:[^"]*"/g, (url) => {
        const to = places.get(JSON.parse(url) as string);
        if (!to) throw new Refusal(400, `${url} names no entry`);
        return JSON.stringify(to);
      });
      stored.set(place, { ...(JSON.parse(text) as Resource), id: place.split('/')[1] ?? '' });
    }
    return responses;
  }

  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const made: TestServer = {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/fhir`,
    stored,
    requests,
    mishaps,
    unwanted: () => undefined,
    of: (type) => [...stored.values()].filter((r) => r.resourceType === type),
    plant: (resource) => void stored.set(`${resource.resourceType}/${++count}`, resource),
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };
  return made;
}

/** An OperationOutcome of one error. */
export const outcome = (diagnostics: string): string =>
  JSON.stringify({ resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'invalid', diagnostics }] });
