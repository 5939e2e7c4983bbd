/**
 * The gamma function, complete and incomplete. Formulas from Abramowitz & Stegun, Handbook of Mathematical
 * Functions (1964), named beside each; quoted from memory, held to tables and other libraries in tests/outside.
 */

/** From here on the series of Stirling with six terms is exact to a double. */
const STIRLING_FROM = 15;
const STIRLING = [1 / 12, -1 / 360, 1 / 1260, -1 / 1680, 1 / 1188, -691 / 360_360];
/** A sum or fraction is finished when a step no longer changes it. */
const SMALLEST_STEP = 1e-16;

/** Natural logarithm of the gamma function, for x > 0 (6.1.41, and 6.1.15 to get to large arguments). Else NaN. */
export function logGamma(x: number): number {
  if (!(x > 0)) return Number.NaN;
  if (x === Number.POSITIVE_INFINITY) return x;
  let product = 1;
  let at = x;
  while (at < STIRLING_FROM) {
    product *= at;
    at += 1;
  }
  let series = 0;
  for (const [i, term] of STIRLING.entries()) series += term / at ** (2 * i + 1);
  return (at - 0.5) * Math.log(at) - at + 0.5 * Math.log(2 * Math.PI) + series - Math.log(product);
}

/**
 * Regularised upper incomplete gamma function Q(a, x), exact in the far tail too: 6.5.31, for small x one less the lower
 * one by 6.5.29. NaN unless a > 0 and x ≥ 0.
 */
export function gammaQ(a: number, x: number): number {
  if (!(a > 0 && x >= 0)) return Number.NaN;
  if (x === 0 || x === Number.POSITIVE_INFINITY) return x === 0 ? 1 : 0;
  return x < a + 1 ? 1 - lowerSeries(a, x) : upperFraction(a, x);
}

/** What both forms have in front: x^a e^−x / Γ(a), by logarithms. */
const front = (a: number, x: number): number => Math.exp(a * Math.log(x) - x - logGamma(a));

function lowerSeries(a: number, x: number): number {
  let term = 1 / a;
  let total = term;
  for (let n = 1; term > total * SMALLEST_STEP; n++) {
    term *= x / (a + n);
    total += term;
  }
  return Math.min(1, total * front(a, x));
}

/** The continued fraction in its even form, from the front by the method of Lentz as Thompson & Barnett changed it. */
function upperFraction(a: number, x: number): number {
  let b = x + 1 - a;
  let c = Number.MAX_VALUE;
  let d = 1 / b;
  let value = d;
  for (let n = 1; ; n++) {
    const numerator = -n * (n - a);
    b += 2;
    d = 1 / (numerator * d + b);
    c = b + numerator / c;
    value *= c * d;
    if (!(Math.abs(c * d - 1) > 2 * SMALLEST_STEP) || n > 100_000) break;
  }
  return value * front(a, x);
}
