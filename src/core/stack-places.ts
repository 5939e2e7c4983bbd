/** Where something was thrown: names of functions and files, and nothing of its message, which may hold anything. */

/** The lines of the stack, the innermost first; none where the thrown thing has no stack. */
export const stackPlaces = (thrown: unknown): string[] =>
  thrown instanceof Error ? (thrown.stack ?? '').split('\n').filter((line) => /^\s+at /.test(line)) : [];
