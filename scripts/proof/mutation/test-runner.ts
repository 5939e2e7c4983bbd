/**
 * A plug-in of the mutation tool: runs the tests of the pure rooms against one mutant after the other in one process,
 * without loading anything anew. A mutant then costs what its tests cost, some milliseconds; the usual runner starts a
 * thread and loads the test files for each, which takes most of a second. `--runner=vitest` uses that one, to see that
 * both judge alike.
 *
 * It knows of the test library what these tests use: describe, it, tables of them, expect. The quickest test runs first
 * and the first failure ends a mutant. A mutant of what runs while files are loaded has its files loaded anew, and they
 * are loaded anew after it.
 */
import { chai, JestAsymmetricMatchers, JestChaiExpect, JestExtend } from '@vitest/expect';
import fc from 'fast-check';
import { createServer, createServerModuleRunner, type ViteDevServer } from 'vite';
import type { ModuleRunner } from 'vite/module-runner';

/** What the mutated sources look at: which mutant is on, and what they were asked. */
interface Switches {
  activeMutant?: string | undefined;
  currentTestId?: string | undefined;
  hitCount?: number | undefined;
  hitLimit?: number | undefined;
  mutantCoverage: { static: Record<string, number>; perTest: Record<string, Record<string, number>> };
}

/** What the tool asks for. */
interface MutantRun {
  readonly activeMutant: { readonly id: string };
  /** The mutated file as it lies in the tool's copy of the house. */
  readonly sandboxFileName: string;
  readonly testFilter?: readonly string[];
  readonly hitLimit?: number;
  readonly mutantActivation: 'static' | 'runtime';
}

type Body = (...args: readonly unknown[]) => unknown;
type Titled = (title: string, body: Body) => void;
type WithTables = Titled & { each: (rows: readonly unknown[]) => Titled };

interface Test {
  readonly id: string;
  readonly file: string;
  readonly run: () => unknown;
}

/** The test files to run, set by the proof. */
const FILES = (process.env['TEST_FILES'] ?? '').split(',');

const found = { passed: 0, failed: 1 };
const messageOf = (problem: unknown): string => (problem instanceof Error ? problem.message : String(problem));

/** The test library, as far as these tests use it; `add` is told every test of the file that is being loaded. */
function library(add: (title: string, run: () => unknown) => void) {
  const titles: string[] = [];
  const one = (title: string, run: () => unknown): void => add([...titles, title].join(' > '), run);
  const group = (title: string, body: () => unknown): void => {
    titles.push(title);
    body();
    titles.pop();
  };
  const withTables = (say: (title: string, body: () => unknown) => void): WithTables =>
    Object.assign((title: string, body: Body) => say(title, () => body()), {
      each: (rows: readonly unknown[]) => (title: string, body: Body) => {
        rows.forEach((row, i) => {
          say(`${title} [${i}]`, () => (Array.isArray(row) ? body(...row) : body(row)));
        });
      },
    });
  chai.use(JestExtend);
  chai.use(JestChaiExpect);
  chai.use(JestAsymmetricMatchers);
  const expect = Object.assign((value: unknown, message?: string) => chai.expect(value, message), chai.expect);
  const describe = withTables(group);
  const skipIf = (isSkipped: boolean): Titled => (isSkipped ? () => undefined : describe);
  return { describe: Object.assign(describe, { skipIf }), it: withTables(one), expect };
}

class RoomsTestRunner {
  private readonly switches: Switches = { mutantCoverage: { static: {}, perTest: {} } };
  private readonly tests = new Map<string, Test>();
  /** How long a test took unmutated, in milliseconds. */
  private readonly usual = new Map<string, number>();
  private server: ViteDevServer | undefined;
  private modules: ModuleRunner | undefined;
  private isLoaded = false;
  private isAsWritten = false;

  /** Mutants of what runs at loading need no new process: the files are loaded anew in this one. */
  capabilities() {
    return { reloadEnvironment: true };
  }

  async init(): Promise<void> {
    const ours = globalThis as unknown as { __stryker__: Switches; theTests: ReturnType<typeof library> };
    ours.__stryker__ = this.switches;
    let file = '';
    ours.theTests = library((title, run) => {
      let id = `${file}#${title}`;
      while (this.tests.has(id)) id += ' again';
      this.tests.set(id, { id, file, run });
    });
    this.load = async (files) => {
      for (const [id, test] of this.tests) if (files.includes(test.file)) this.tests.delete(id);
      this.modules?.clearCache();
      for (file of files) await this.modules?.import(`/${file}`);
    };
    fc.configureGlobal({ endOnFailure: true }); // that it fails is enough
    this.server = await createServer({
      configFile: false,
      logLevel: 'error',
      appType: 'custom',
      server: { middlewareMode: true, watch: null, hmr: false, ws: false },
      ssr: { noExternal: ['vitest'] },
      optimizeDeps: { noDiscovery: true },
      plugins: [
        {
          name: 'the-tests',
          enforce: 'pre',
          resolveId: (id) => (id === 'vitest' ? '\0the-tests' : undefined),
          load: (id) =>
            id === '\0the-tests' ? 'export const { describe, it, expect } = globalThis.theTests;' : undefined,
        },
      ],
    });
    this.modules = createServerModuleRunner(this.server.environments.ssr, { hmr: false });
  }

  private load: (files: readonly string[]) => Promise<void> = async () => undefined;

  /** Runs every test once, unmutated, and notes which mutants each of them meets. */
  async dryRun() {
    await this.asWritten();
    const tests = [];
    for (const test of this.tests.values()) {
      this.switches.currentTestId = test.id;
      const begun = performance.now();
      const problem = await this.problemOf(test);
      const timeSpentMs = performance.now() - begun;
      this.usual.set(test.id, timeSpentMs);
      tests.push({
        id: test.id,
        name: test.id,
        fileName: test.file,
        timeSpentMs,
        ...(problem === undefined ? { status: found.passed } : { status: found.failed, failureMessage: problem }),
      });
    }
    this.switches.currentTestId = undefined;
    return { status: 'complete', tests, mutantCoverage: this.switches.mutantCoverage };
  }

  async mutantRun({ activeMutant, sandboxFileName, testFilter, hitLimit, mutantActivation }: MutantRun) {
    const isStatic = mutantActivation === 'static';
    // In a process that has taken the place of one that ran out of time nobody knows yet who reaches which file.
    if (!isStatic || !this.isLoaded) await this.asWritten();
    const files = isStatic ? this.usersOf(sandboxFileName) : FILES;
    if (files.length === 0) return { status: 'error', errorMessage: `No test reaches ${sandboxFileName}.` };
    this.switches.activeMutant = activeMutant.id;
    this.switches.hitCount = hitLimit === undefined ? undefined : 0;
    this.switches.hitLimit = hitLimit;
    let asked = 0;
    try {
      if (isStatic) {
        this.isAsWritten = false;
        await this.load(files);
      }
      const wanted = new Set(testFilter ?? this.tests.keys());
      const tests = [...this.tests.values()]
        .filter(({ id, file }) => wanted.has(id) && files.includes(file))
        .sort((a, b) => (this.usual.get(a.id) ?? 0) - (this.usual.get(b.id) ?? 0));
      for (const test of tests) {
        asked++;
        const problem = await this.problemOf(test);
        if (hitLimit !== undefined && (this.switches.hitCount ?? 0) > hitLimit)
          return { status: 'timeout', reason: 'goes round and round' };
        if (problem !== undefined)
          return { status: 'killed', killedBy: [test.id], failureMessage: problem, nrOfTests: asked };
      }
      return { status: 'survived', nrOfTests: asked };
    } catch (problem) {
      if (hitLimit !== undefined && (this.switches.hitCount ?? 0) > hitLimit)
        return { status: 'timeout', reason: 'goes round and round' };
      // The files cannot even be loaded: every test of them fails.
      return {
        status: 'killed',
        killedBy: testFilter?.slice(0, 1) ?? [],
        failureMessage: messageOf(problem),
        nrOfTests: asked,
      };
    } finally {
      this.switches.activeMutant = undefined;
      this.switches.hitCount = undefined;
    }
  }

  async dispose(): Promise<void> {
    await this.server?.close();
  }

  /** The test files that reach a source file, by whatever way. */
  private usersOf(source: string): string[] {
    const seen = new Set<string>();
    const follow = (names: Iterable<string>): void => {
      for (const name of names) {
        if (seen.has(name)) continue;
        seen.add(name);
        const importers = this.server?.environments.ssr.moduleGraph.getModuleById(name)?.importers ?? [];
        follow([...importers].flatMap(({ id }) => id ?? []));
      }
    };
    follow([source.replaceAll('\\', '/')]);
    return FILES.filter((file) => [...seen].some((name) => name.endsWith(`/${file}`)));
  }

  private async asWritten(): Promise<void> {
    if (this.isAsWritten) return;
    await this.load(FILES);
    this.isLoaded = true;
    this.isAsWritten = true;
  }

  private async problemOf({ run }: Test): Promise<string | undefined> {
    try {
      await run();
      return undefined;
    } catch (problem) {
      return messageOf(problem);
    }
  }
}

/** The tool makes its runner by this. */
const factory = Object.assign(() => new RoomsTestRunner(), { inject: [] as const });

/** What the tool looks for in a plug-in. */
export const strykerPlugins = [{ kind: 'TestRunner', name: 'rooms', factory }];
