/** How a measurement is taken and printed: medians of several runs, baseline, figure, ratio, aim. */
import { appendFileSync } from 'node:fs';

/** The median of some figures. */
export function median(figures: readonly number[]): number {
  const sorted = [...figures].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  const [low, high] = [sorted[middle - 1] ?? Number.NaN, sorted[middle] ?? Number.NaN];
  return sorted.length % 2 === 1 ? high : (low + high) / 2;
}

const WARM_UP = 10;

/**
 * Seconds that `work` takes, median of `runs` after a few that do not count. The heap is left alone in between: a full
 * collection makes V8 drop code that it has compiled, and what is measured then is the compiler.
 */
export function secondsOf(work: () => void, runs = 15): number {
  for (let i = 0; i < WARM_UP; i++) work();
  const figures: number[] = [];
  for (let i = 0; i < runs; i++) {
    const start = process.hrtime.bigint();
    work();
    figures.push(Number(process.hrtime.bigint() - start) / 1e9);
  }
  return median(figures);
}

export interface Comparison {
  readonly what: string;
  /** What it is measured against, in words. */
  readonly against: string;
  readonly baseline: number;
  readonly figure: number;
  readonly unit: string;
  /** `at-least`: figure / baseline should be so much or more; `at-most`: so much or less. */
  readonly aim: { readonly kind: 'at-least' | 'at-most'; readonly ratio: number };
}

const shown = (n: number): string => n.toPrecision(3);

/** One line of the history: a figure as it was printed. `ratio` is absent where a figure has a limit and no baseline. */
export interface KeptFigure {
  readonly what: string;
  readonly figure: number;
  readonly unit: string;
  readonly ratio?: number;
  readonly aim?: string;
  readonly isMet?: boolean;
}

/** Hands a figure to `npm run bench`, which keeps the history. */
export function keepFigure(kept: KeptFigure): void {
  const file = process.env['TALLYDOCK_BENCH_FIGURES'];
  if (file !== undefined) appendFileSync(file, `${JSON.stringify(kept)}\n`);
}

/** Prints one comparison: baseline, figure, ratio, aim, and whether it was met. */
export function report({ what, against, baseline, figure, unit, aim }: Comparison): void {
  const ratio = figure / baseline;
  const isMet = aim.kind === 'at-least' ? ratio >= aim.ratio : ratio <= aim.ratio;
  keepFigure({ what, figure, unit, ratio, aim: `${aim.kind} ${aim.ratio}`, isMet });
  console.log(
    `  ${what}: ${shown(figure)} ${unit}; ${against}: ${shown(baseline)} ${unit}; ratio ${ratio.toFixed(2)}, aim ${aim.kind === 'at-least' ? '>=' : '<='} ${aim.ratio}: ${isMet ? 'met' : 'MISSED'}`,
  );
}

/** Prints one figure with its limit. */
export function reportLimit(what: string, figure: number, limit: number, unit: string): void {
  keepFigure({ what, figure, unit, aim: `below ${limit}`, isMet: figure < limit });
  console.log(`  ${what}: ${shown(figure)} ${unit}, aim < ${limit} ${unit}: ${figure < limit ? 'met' : 'MISSED'}`);
}
