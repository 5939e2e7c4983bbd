/**
 * The outlet to an HL7 receiver over MLLP: one message after the other, each acknowledged before the next. The receiver
 * knows a repeat by MSH-10, which names reading and version.
 */
import { setTimeout as pause } from 'node:timers/promises';
import { Fault } from '../../core/fault.ts';
import type { Delivery, Outlet, SendResult } from '../outlet.ts';
import { type Hl7Message, messagesOf } from './message.ts';
import { connectMllp, type MllpConnection } from './mllp-connection.ts';
import type { Hl7Deps, Hl7MllpSettings } from './settings.ts';

const BATCH = 50;
/** How often a message is sent that the receiver rejects for reasons of its own, before it counts as refused. */
const TRIES = 3;

/**
 * Makes the outlet. AA and CA: taken. AE and CE: refused. AR and CR: refused where the error code is about the content,
 * else sent three times with a pause and then refused, so that nothing blocks what comes behind. No connection, no
 * answer in time, or a closed connection: OUTLET_DOWN. What was acknowledged before that is not sent again when the
 * batch comes again to this outlet.
 */
export function hl7MllpOutlet(settings: Hl7MllpSettings, deps: Hl7Deps): Outlet {
  const sender = { site: deps.site, zone: deps.zone, settings };
  /** Answers to messages of a batch that was not finished, by control id. */
  const answered = new Map<string, SendResult>();
  let connection: MllpConnection | undefined;

  async function tell(message: Hl7Message, signal: AbortSignal): Promise<SendResult> {
    const known = answered.get(message.controlId);
    if (known) return known;
    for (let tries = 1; ; tries++) {
      if (!connection?.isOpen()) connection = await connectMllp(settings, signal);
      const verdict = await connection.ask(message.text, message.controlId, signal);
      if (verdict.kind === 'passing' && tries < TRIES) {
        await quietly(pause(settings['retry-pause'] * 1000, undefined, { signal }));
        continue;
      }
      const result: SendResult = verdict.kind === 'taken' ? verdict : { kind: 'refused', reason: verdict.reason };
      answered.set(message.controlId, result);
      return result;
    }
  }

  async function deliver(delivery: Delivery, signal: AbortSignal): Promise<SendResult> {
    for (const message of messagesOf(delivery, sender, deps.now())) {
      const result = await tell(message, signal);
      if (result.kind === 'refused') return result;
    }
    return { kind: 'taken' };
  }

  return {
    batchSize: BATCH,
    async send(batch, signal) {
      const results: SendResult[] = [];
      for (const delivery of batch) results.push(await deliver(delivery, signal));
      answered.clear();
      return results;
    },
    close() {
      connection?.close();
      return Promise.resolve();
    },
  };
}

/** A pause that a stop of the program ends as OUTLET_DOWN. */
async function quietly(waited: Promise<void>): Promise<void> {
  try {
    await waited;
  } catch (cause) {
    throw new Fault('OUTLET_DOWN', 'The HL7 receiver was not waited for: the program stops', 'It is tried again', {
      cause,
    });
  }
}
