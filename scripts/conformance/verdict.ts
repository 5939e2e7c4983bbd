/**
 * What a check says of one clause, and how a list of clauses is gone through. Knows no protocol: a clause is handed
 * the host of its protocol and gives a verdict.
 */

/** `fails` says what the document makes one expect and what came; `not-applicable` says why nothing could be judged. */
export type Verdict =
  | { readonly kind: 'passes' }
  | { readonly kind: 'fails'; readonly expected: string; readonly came: string }
  | { readonly kind: 'not-applicable'; readonly why: string };

/** The clause is kept. */
export const PASSES: Verdict = { kind: 'passes' };
/** The clause is broken. */
export const fails = (expected: string, came: string): Verdict => ({ kind: 'fails', expected, came });
/** Nothing could be judged. */
export const notApplicable = (why: string): Verdict => ({ kind: 'not-applicable', why });

/** One promise of a protocol document that a meter can keep or break. `H` is the host that the check speaks through. */
export interface Clause<H> {
  /** Its number in protocols/CONFORMANCE.md; it never changes. */
  readonly id: string;
  /** The section of the protocol document that it checks. */
  readonly section: string;
  /** What a meter promises, as one sentence. */
  readonly promise: string;
  /** True where it only looks at what came before, and so needs no meter any more. */
  readonly looksBack?: boolean;
  /** Throws NoAnswer where the meter cannot even be reached for this check. */
  check(host: H): Promise<Verdict>;
}

/** A clause and what came of it. */
export interface Judged {
  readonly id: string;
  readonly section: string;
  readonly promise: string;
  readonly verdict: Verdict;
}

/** The meter did not begin to speak, or the port was lost, so that a check could not be made. */
export class NoAnswer extends Error {
  override readonly name = 'NoAnswer';
  /** What the document makes one expect. */
  readonly expected: string;
  readonly came: string;

  constructor(expected: string, came: string) {
    super(`expected ${expected}; came: ${came}`);
    this.expected = expected;
    this.came = came;
  }
}

/** After so many checks in a row that the meter did not answer it is not asked any more. */
const SILENT_CHECKS = 3;

/**
 * Judges each clause in turn and tells it. A meter that stops answering fails the clause at which it stopped; the
 * clauses after it cannot be judged until it answers again.
 */
export async function judge<H extends { readonly heard: readonly unknown[] }>(
  clauses: readonly Clause<H>[],
  host: H,
  tell: (judged: Judged) => void = () => {},
): Promise<Judged[]> {
  const all: Judged[] = [];
  let silentSince: string | undefined;
  let silentChecks = 0;
  for (const { id, section, promise, looksBack, check } of clauses) {
    const before = host.heard.length;
    const silence = (): Verdict => notApplicable(`the meter no longer answers since ${silentSince}`);
    const verdict =
      silentChecks >= SILENT_CHECKS && !looksBack
        ? silence()
        : await check(host).catch((thrown: unknown): Verdict => {
            if (!(thrown instanceof NoAnswer)) throw thrown;
            silentChecks++;
            if (silentSince !== undefined) return silence();
            silentSince = id;
            return fails(thrown.expected, thrown.came);
          });
    // A clause that only looks at what came earlier says nothing of the meter's health.
    if (verdict.kind === 'passes' && host.heard.length > before) {
      silentSince = undefined;
      silentChecks = 0;
    }
    const judged = { id, section, promise, verdict };
    all.push(judged);
    tell(judged);
  }
  return all;
}
