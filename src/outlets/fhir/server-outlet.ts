/**
 * The outlet to a FHIR R4 server: transactions over HTTP. A transaction is stored whole or not at all; one that is
 * refused is halved until the delivery that is not wanted stands alone, so that it does not hold back the others.
 */
import { Fault } from '../../core/fault.ts';
import type { Delivery, Outlet, SendResult } from '../outlet.ts';
import { judgeAnswer, type Verdict } from './answer.ts';
import { transactionOf, withoutRepeats } from './bundle.ts';
import { fhirJson } from './fhir-json.ts';
import { systemsOf } from './keys.ts';
import type { FhirDeps, FhirServerSettings } from './settings.ts';

/** `secret` gives the bearer token, where the server wants one; asked at every request, so that it may change. */
export interface FhirServerDeps extends FhirDeps {
  readonly secret: () => string | undefined;
}

const LOOPBACK = new Set(['localhost', '127.0.0.1', '[::1]']);

/**
 * Makes the outlet. Rejects with OUTLET_DOWN where the server is not reached, does not answer in time, or answers
 * something that is not about the content (5xx, 401, 404 ...). Rejects with OUTLET_INVALID where a token would travel
 * in the clear.
 */
export function fhirServerOutlet(settings: FhirServerSettings, deps: FhirServerDeps): Outlet {
  const url = new URL(settings.url);
  const systems = systemsOf(deps.site, settings.system, settings['patient-system']);

  async function post(deliveries: readonly Delivery[], signal: AbortSignal): Promise<Verdict> {
    const bundle = transactionOf(deliveries, deps.site, systems, deps.now());
    const token = deps.secret();
    if (token !== undefined && url.protocol === 'http:' && !LOOPBACK.has(url.hostname))
      throw new Fault(
        'OUTLET_INVALID',
        `The token for ${url.host} would travel unencrypted`,
        'Use an https address, or remove the token',
      );
    try {
      const response = await fetch(url, {
        method: 'POST',
        body: fhirJson(bundle),
        headers: {
          'content-type': 'application/fhir+json; charset=utf-8',
          accept: 'application/fhir+json',
          ...(token === undefined ? {} : { authorization: `Bearer ${token}` }),
        },
        // A redirect would carry patients' results to an address that nobody has set.
        redirect: 'manual',
        signal: AbortSignal.any([signal, AbortSignal.timeout(settings.timeout * 1000)]),
      });
      return judgeAnswer(response.status, await response.text(), bundle.entry.length);
    } catch (cause) {
      const hint = 'Check the network and the address; it is tried again';
      throw new Fault('OUTLET_DOWN', `The FHIR server ${url.host} ${whyNot(cause)}`, hint, { cause });
    }
  }

  async function deliver(deliveries: readonly Delivery[], signal: AbortSignal): Promise<readonly SendResult[]> {
    if (deliveries.length === 0) return [];
    const verdict = await post(deliveries, signal);
    switch (verdict.kind) {
      case 'stored':
        return deliveries.map(() => ({ kind: 'taken' }));
      case 'down':
        throw new Fault('OUTLET_DOWN', `The FHIR server ${url.host} answered ${verdict.reason}`, verdict.hint);
      case 'refused': {
        if (deliveries.length === 1) return [verdict];
        const half = deliveries.length >> 1;
        const first = await deliver(deliveries.slice(0, half), signal);
        return [...first, ...(await deliver(deliveries.slice(half), signal))];
      }
    }
  }

  return {
    batchSize: settings.batch,
    async send(batch, signal): Promise<readonly SendResult[]> {
      const results: SendResult[] = [];
      for (const piece of withoutRepeats(batch)) results.push(...(await deliver(piece, signal)));
      return results;
    },
    close: () => Promise.resolve(),
  };
}

/** Why there is no answer, in words. The cause of a failed fetch says more than its message. */
function whyNot(thrown: unknown): string {
  if (!(thrown instanceof Error)) return 'cannot be reached';
  if (thrown.name === 'TimeoutError') return 'did not answer in time';
  if (thrown.name === 'AbortError') return 'was not waited for: the program stops';
  const { cause } = thrown;
  return `cannot be reached: ${cause instanceof Error && cause.message ? cause.message : thrown.message}`;
}
