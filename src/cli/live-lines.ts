/** Lines on a terminal that are drawn over again while work goes on. Elsewhere nothing is drawn. */

export interface LiveLines {
  /** Shows these lines in place of the ones before. Drawn at most ten times a second. */
  show(lines: readonly string[]): void;
  /** Takes the lines away again. */
  clear(): void;
}

const REDRAW_MS = 100;

/** Live lines on stderr, if that is a terminal and nobody asked for quiet. */
export function makeLiveLines(isQuiet: boolean): LiveLines {
  if (isQuiet || !process.stderr.isTTY) return { show: () => {}, clear: () => {} };
  let drawn = 0;
  let lastAt = Number.NEGATIVE_INFINITY;
  const erase = (): string => (drawn > 0 ? `\u001b[${drawn}A\u001b[0J` : '');
  return {
    show(lines) {
      const now = performance.now();
      if (now - lastAt < REDRAW_MS) return;
      lastAt = now;
      // A block higher than the window cannot be drawn over: its end is what matters.
      const fitting = lines.slice(-Math.max(1, (process.stderr.rows || 24) - 1));
      process.stderr.write(`${erase()}${fitting.map((line) => `${line}\n`).join('')}`);
      drawn = fitting.length;
    },
    clear() {
      process.stderr.write(erase());
      drawn = 0;
    },
  };
}
