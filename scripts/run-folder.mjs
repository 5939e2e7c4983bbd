/**
 * Runs the TypeScript programs of one folder one after the other, with the machine's figures above them. They are
 * compiled by tsc as the product is: a loader that wraps every function to keep its name would be measured with it.
 */
import { cpSync, mkdirSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { cpus, totalmem } from 'node:os';
import { basename, join } from 'node:path';
import { ensureBuilt, ensurePackages, root, runNode, runTool } from './steps.mjs';

/** Returns the exit code: 0 if all programs ended well, 1 if one did not, 2 if a name is unknown. */
export function runFolder(folder) {
  ensurePackages();
  ensureBuilt();
  const all = readdirSync(join(root, 'scripts', folder))
    .filter((file) => file.endsWith('.ts'))
    .map((file) => basename(file, '.ts'))
    .sort();
  const [wanted, options] = split(process.argv.slice(2));
  const unknown = wanted.filter((name) => !all.includes(name));
  if (unknown.length > 0) {
    console.error(`There is no ${folder} named ${unknown.join(', ')}. There are: ${all.join(', ')}.`);
    return 2;
  }
  const cores = cpus();
  console.log(
    `Machine: ${cores[0]?.model ?? 'unknown'}, ${cores.length} cores, ${Math.round(totalmem() / 2 ** 30)} GiB, ${process.platform}, Node ${process.version}`,
  );
  const compiled = compile();
  let failed = 0;
  for (const name of wanted.length > 0 ? wanted : all) {
    console.log(`\n${folder} ${name}`);
    if (
      runNode(['--expose-gc', '--enable-source-maps', join(compiled, 'scripts', folder, `${name}.js`), ...options])
        .code !== 0
    )
      failed++;
  }
  if (failed > 0) console.error(`\n${failed} of them failed.`);
  return failed > 0 ? 1 : 0;
}

/** Names come first; everything from the first option on is handed to the programs. */
function split(args) {
  const at = args.findIndex((arg) => arg.startsWith('-'));
  return at < 0 ? [args, []] : [args.slice(0, at), args.slice(at)];
}

/**
 * Compiles sources, tests and scripts into a folder beside the packages, beside what they look for relative
 * to themselves. Returns the folder, which goes when this process ends. Messages about types are the business of
 * `npm run check`.
 */
function compile() {
  const cache = join(root, 'node_modules', '.cache');
  mkdirSync(cache, { recursive: true });
  const folder = mkdtempSync(join(cache, 'tallydock-'));
  process.once('exit', () => rmSync(folder, { recursive: true, force: true }));
  runTool('tsc', ['-p', 'tsconfig.json', '--noEmit', 'false', '--rootDir', '.', '--outDir', folder, '--sourceMap'], {
    capture: true,
  });
  // A copy of the program: a long proof must not change under a build that somebody starts meanwhile.
  for (const name of ['dist', 'protocols', 'package.json'])
    cpSync(join(root, name), join(folder, name), { recursive: true });
  return folder;
}
