/** Runs the TypeScript programs of one folder one after the other, with the machine's figures above them. */
import { readdirSync } from 'node:fs';
import { cpus, totalmem } from 'node:os';
import { basename, join } from 'node:path';
import { ensureBuilt, ensurePackages, root, runNode } from './steps.mjs';

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
  let failed = 0;
  for (const name of wanted.length > 0 ? wanted : all) {
    console.log(`\n${folder} ${name}`);
    if (runNode(['--import', 'tsx', '--expose-gc', join('scripts', folder, `${name}.ts`), ...options]).code !== 0)
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
