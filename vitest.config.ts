import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';
import type { Reporter } from 'vitest/reporters';

/** Prints the one closing line that a CI can count. */
const counts: Reporter = {
  onTestRunEnd(modules) {
    let passed = 0;
    let failed = 0;
    let skipped = 0;
    for (const m of modules) {
      const tests = [...m.children.allTests()];
      if (!m.ok() && tests.length === 0) failed++; // a file that did not load
      for (const t of tests) {
        const { state } = t.result();
        if (state === 'passed') passed++;
        else if (state === 'failed') failed++;
        else skipped++;
      }
    }
    console.log(`\n${passed} passed, ${failed} failed, ${skipped} skipped`);
  },
};

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    pool: 'forks', // never 'threads': the serial library aborts the process there
    // The runner would leave one core idle; many tests wait for ports and child processes.
    maxWorkers: availableParallelism(),
    testTimeout: 30_000,
    hookTimeout: 60_000, // the first hook of a file starts what the others find warm
    reporters: ['default', counts],
    coverage: { provider: 'v8', include: ['src/**/*.ts'], reporter: ['text-summary'] },
  },
});
