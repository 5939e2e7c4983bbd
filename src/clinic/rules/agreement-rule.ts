/**
 * What a rule for the agreement of a meter with a laboratory looks like: how large a difference it allows for which
 * laboratory value, and how many of the differences must keep to that. A clinic may hand in rules of its own in the same
 * form; they are read here.
 */
import { z } from 'zod';
import { bad, good, type Parsed } from '../../core/fault.ts';

const Span = z
  .strictObject({
    from: z.number().optional(),
    over: z.number().optional(),
    to: z.number().optional(),
    below: z.number().optional(),
  })
  .refine((s) => s.from === undefined || s.over === undefined, 'has both "from" and "over"')
  .refine((s) => s.to === undefined || s.below === undefined, 'has both "to" and "below"')
  .refine((s) => (s.from ?? s.over ?? -Infinity) < (s.to ?? s.below ?? Infinity), 'ends before it begins')
  .readonly();

/** A stretch of values: `from` and `to` include their limit, `over` and `below` do not; an absent end is open. */
export type ValueSpan = z.infer<typeof Span>;

const Allowed = z.union([
  z.strictObject({ units: z.number().nonnegative() }),
  z.strictObject({ percent: z.number().nonnegative() }),
]);

/** A difference that is still allowed: in the unit of the values, or in percent of the laboratory value. */
export type AllowedDifference = Readonly<z.infer<typeof Allowed>>;

const Demand = z
  .strictObject({
    atLeastPercent: z.number().positive().max(100),
    limits: z
      .array(z.strictObject({ span: Span, allowed: Allowed }).readonly())
      .min(1)
      .readonly(),
  })
  .refine((d) => !hasOverlap(d.limits.map(({ span }) => span)), 'has limits that overlap')
  .readonly();

/** At least so many percent of the differences lie within these limits, all of its spans of laboratory values together. */
export type Demand = z.infer<typeof Demand>;

const Rule = z
  .strictObject({
    source: z
      .strictObject({ name: z.string().min(1), edition: z.string().min(1), citation: z.string().min(1) })
      .readonly(),
    analyte: z.string().min(1),
    unit: z.string().min(1),
    demands: z.array(Demand).min(1).readonly(),
  })
  .readonly();

/** One edition of one rule. Several demands stand beside each other: each is compared with on its own. */
export type AgreementRule = z.infer<typeof Rule>;

/** Reads a rule from a settings file. What is wrong is said by the name of the field. */
export function readAgreementRule(given: unknown): Parsed<AgreementRule> {
  const read = Rule.safeParse(given);
  if (read.success) return good(read.data);
  const [issue] = read.error.issues;
  return bad(`The agreement rule is wrong at "${issue?.path.join('.') ?? ''}": ${issue?.message ?? 'unknown'}`);
}

/** Whether a value lies in a span. */
export const isWithinSpan = (value: number, { from, over, to, below }: ValueSpan): boolean =>
  (from === undefined || value >= from) &&
  (over === undefined || value > over) &&
  (to === undefined || value <= to) &&
  (below === undefined || value < below);

/** A span in words: `below 2.0`, `2.0 to 3.0`, `over 3.0 to 4.0`, `all values`. */
export function spanInWords({ from, over, to, below }: ValueSpan): string {
  const start = from !== undefined ? `${written(from)}` : over !== undefined ? `over ${written(over)}` : '';
  const end = to !== undefined ? `to ${written(to)}` : below !== undefined ? `below ${written(below)}` : '';
  if (!start && !end) return 'all values';
  if (!end) return from !== undefined ? `${start} and more` : start;
  if (!start) return to !== undefined ? `up to ${written(to)}` : end;
  return below !== undefined ? `${start} to ${end}` : `${start} ${end}`;
}

// At least one decimal, as INR limits are written; glucose limits are whole and stay so.
const written = (limit: number): string => (Number.isInteger(limit) && limit < 20 ? limit.toFixed(1) : String(limit));

function hasOverlap(spans: readonly ValueSpan[]): boolean {
  const start = (s: ValueSpan): number => s.from ?? s.over ?? -Infinity;
  const end = (s: ValueSpan): number => s.to ?? s.below ?? Infinity;
  const sorted = spans.toSorted((a, b) => start(a) - start(b));
  return sorted.some((span, i) => {
    const next = sorted[i + 1];
    if (!next || start(next) > end(span)) return false;
    const isShared = next.over === undefined && span.below === undefined;
    return start(next) < end(span) || isShared;
  });
}
