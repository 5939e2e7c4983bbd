/** What went wrong as an answer: the stable code, the sentence, the next step, and a fitting status of HTTP. */
import type { ContentfulStatusCode } from 'hono/utils/http-status';
import { asFault, type FaultCode } from '../core/fault.ts';
import { stackPlaces } from '../core/stack-places.ts';
import type { DeskError } from './api/state.ts';
import type { DeskContext } from './env.ts';
import type { DeskTools } from './tools.ts';

const STATUS: Partial<Readonly<Record<FaultCode, ContentfulStatusCode>>> = {
  SIGN_IN_NEEDED: 401,
  SIGN_IN_WRONG: 401,
  SIGN_IN_RESTING: 429,
  ROLE_MISSING: 403,
  REQUEST_FOREIGN: 403,
  REQUEST_WRONG: 400,
  CALL_WRONG: 400,
  IMPORT_WRONG: 400,
  NOT_POSSIBLE: 409,
  CONFIG_INVALID: 409,
  PATIENT_UNKNOWN: 404,
  METER_UNKNOWN: 404,
  READING_UNKNOWN: 404,
  OUTLET_UNKNOWN: 404,
  OPERATOR_UNKNOWN: 404,
};

/** Answers with what was thrown. What is our own mistake is logged by its place; its message may hold anything. */
export function answerFault(thrown: unknown, c: DeskContext, tools: DeskTools): Response {
  const { code, message, hint } = asFault(thrown);
  if (code === 'INTERNAL') tools.log.error({ code, where: stackPlaces(thrown).slice(0, 5) }, 'desk failed');
  const says = code === 'INTERNAL' ? 'Something broke inside tallydock' : message;
  const body: DeskError = { error: { code, message: says, hint } };
  return c.json(body, STATUS[code] ?? 500);
}
