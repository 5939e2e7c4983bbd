/** What a FHIR server's answer to a transaction means. Pure: status and text in, a verdict out. */
import { z } from 'zod';

/** `down`: nothing is known to be stored, try later. `refused`: the server does not want this content. */
export type Verdict =
  | { readonly kind: 'stored' }
  | { readonly kind: 'refused'; readonly reason: string }
  | { readonly kind: 'down'; readonly reason: string; readonly hint: string };

const Outcome = z.object({
  resourceType: z.literal('OperationOutcome'),
  issue: z.array(
    z.object({
      severity: z.string().optional(),
      code: z.string().optional(),
      diagnostics: z.string().optional(),
      details: z.object({ text: z.string().optional() }).optional(),
      expression: z.array(z.string()).optional(),
    }),
  ),
});

const Response = z.object({
  resourceType: z.literal('Bundle'),
  type: z.literal('transaction-response'),
  entry: z.array(z.object({ response: z.object({ status: z.string() }) })),
});

/** Longest reason that is kept, characters. */
const LONGEST_REASON = 500;

/** Answers that are about the content of what was sent. Anything else is about the server, the way to it or the token. */
const CONTENT = new Set([400, 409, 410, 412, 413, 415, 422]);

/** Judges an answer to a transaction of `entries` entries. */
export function judgeAnswer(status: number, text: string, entries: number): Verdict {
  const body = parsed(text);
  if (status >= 200 && status < 300) {
    const response = Response.safeParse(body);
    const isWhole =
      response.success &&
      response.data.entry.length === entries &&
      response.data.entry.every(({ response: one }) => one.status.startsWith('2'));
    if (isWhole) return { kind: 'stored' };
    return down(
      status,
      'its answer is not that of a FHIR transaction',
      'Check the address: it must be the base of a FHIR R4 server',
    );
  }
  if (CONTENT.has(status))
    return { kind: 'refused', reason: `${status}: ${reasonIn(body) ?? 'no reason given'}`.slice(0, LONGEST_REASON) };
  const reason = reasonIn(body) ?? 'no reason given';
  if (status === 401 || status === 403)
    return down(status, reason, 'Check the token of this outlet and what it is allowed to do');
  if (status < 500 && status !== 408 && status !== 425 && status !== 429)
    return down(status, reason, 'Check the address: it must be the base of a FHIR R4 server that takes transactions');
  return down(status, reason, 'It is tried again; if it stays so, ask whoever runs the server');
}

const down = (status: number, reason: string, hint: string): Verdict => ({
  kind: 'down',
  reason: `${status}: ${reason}`.slice(0, LONGEST_REASON),
  hint,
});

/** The issues of an OperationOutcome in words. */
function reasonIn(body: unknown): string | undefined {
  const outcome = Outcome.safeParse(body);
  if (!outcome.success) return undefined;
  const issues = outcome.data.issue.map(({ code, diagnostics, details, expression }) => {
    const words = diagnostics ?? details?.text ?? code ?? '';
    return expression?.length ? `${words} (${expression.join(', ')})` : words;
  });
  return issues.filter((words) => words !== '').join('; ') || undefined;
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
