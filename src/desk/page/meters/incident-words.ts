/** What happened to a clock or a memory, and when, worded anew from the facts. Pure. */
import type { Incident } from '../../../core/placement.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

/** `between 3 March and 5 March`, as far as it is known. */
export function whenWords(
  { earliest, latest }: { readonly earliest?: number; readonly latest?: number },
  words: Words,
  format: Format,
): string {
  const { between, notBefore, notAfter, whenUnknown } = words.meters;
  if (earliest === undefined) return latest === undefined ? whenUnknown : notAfter(format.moment(latest));
  if (latest === undefined) return notBefore(format.moment(earliest));
  const [from, to] = [format.moment(earliest), format.moment(latest)];
  return from === to ? from : between(from, to);
}

/** The sentence of an incident, with the size of a jump. */
export function incidentWords({ kind, sizeS }: Pick<Incident, 'kind' | 'sizeS'>, words: Words, format: Format): string {
  const { incident, jump } = words.meters;
  const size = sizeS === undefined || kind === 'fast-drift' ? '' : jump(amountWords(sizeS, words, format), sizeS > 0);
  return `${incident[kind]}${size}.`;
}

/** An amount of time in the unit that suits it: `45 s`, `12 min`, `3.5 h`, `20 days`. */
export function amountWords(seconds: number, words: Words, format: Format): string {
  const size = Math.abs(seconds);
  const { units } = words.meters;
  if (size < 90) return `${format.number(size, 0)} ${units.s}`;
  if (size < 5400) return `${format.number(size / 60, 0)} ${units.min}`;
  if (size < 172_800) return `${format.number(size / 3600, size % 3600 === 0 ? 0 : 1)} ${units.h}`;
  return `${format.number(size / 86_400, 0)} ${units.d}`;
}

/** How a clock stood when it was read: `12 min fast`. A minute is as exact as most meters tell it. */
export function clockWords(offS: number | undefined, words: Words, format: Format): string {
  if (offS === undefined) return words.meters.clockUnknown;
  if (Math.abs(offS) < 1) return words.meters.clockRight;
  return words.meters.clockOff(amountWords(offS, words, format), offS > 0);
}
