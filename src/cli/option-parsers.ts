/** What commander is handed to read the values of options: the number, or a sentence that follows the option's name. */
import { InvalidArgumentError } from 'commander';

/** Reads a whole number between two bounds, both included. */
export function wholeNumber(least: number, most = Number.MAX_SAFE_INTEGER): (text: string) => number {
  const bounds = `from ${least}${most < Number.MAX_SAFE_INTEGER ? ` to ${most}` : ''}`;
  return (text) => {
    const value = Number(text);
    if (/^-?\d+$/.test(text) && value >= least && value <= most) return value;
    throw new InvalidArgumentError(`It must be a whole number ${bounds}.`);
  };
}

/** Reads any number. */
export function anyNumber(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value)) throw new InvalidArgumentError('It must be a number.');
  return value;
}
