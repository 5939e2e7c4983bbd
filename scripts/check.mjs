/**
 * `npm run check`: format and lint, types, the floors of the house (which folder may import from which), that no file and
 * no export is there which nothing uses, and what is shipped: that nothing is missing, and under which licences.
 */
import { fileURLToPath } from 'node:url';
import { licenceTrouble, readShipped } from './shipped.mjs';
import { ensurePackages, orEnd, root, runTool } from './steps.mjs';

/** Runs the checks; ends the script at the first that fails. */
export function check() {
  orEnd(
    runTool('biome', ['check', '--error-on-warnings']).code,
    'Format or lint: run "npx biome check --write", then look at what is left.',
  );
  for (const project of ['tsconfig.json', 'src/desk/page/tsconfig.json'])
    orEnd(runTool('tsc', ['-p', project]).code, 'Types: see the messages above.');
  const floors = runTool('depcruise', ['src', '--config', '.dependency-cruiser.cjs'], { capture: true });
  process.stdout.write(floors.text);
  orEnd(floors.code, 'Floors: a file imports from a floor that it may not know.');
  // The tool passes happily when it could not read a single file; that must not look like success.
  const modules = Number(/\((\d+) modules/.exec(floors.text)?.[1] ?? 0);
  orEnd(modules > 0 ? 0 : 1, 'Floors: no module was checked at all.');
  // Not its view of packages: the tools here are started by their files, which it does not see.
  orEnd(
    runTool('knip', ['--include', 'files,exports,unresolved', '--no-config-hints']).code,
    'Unused: nothing imports these. Take them away, or no longer export them.',
  );
  const { missing, components } = readShipped(root);
  orEnd(missing.length, `Packages: the program imports what no install brings: ${missing.join(', ')}`);
  const trouble = licenceTrouble(components);
  orEnd(trouble.length, `Licences that may not be shipped (scripts/shipped.mjs says which may): ${trouble.join('; ')}`);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  ensurePackages();
  check();
}
