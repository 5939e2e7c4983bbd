/** `npm run check`: format and lint, types, and the floors of the house (which folder may import from which). */
import { fileURLToPath } from 'node:url';
import { ensurePackages, orEnd, runTool } from './steps.mjs';

/** Runs the three checks; ends the script at the first that fails. */
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
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  ensurePackages();
  check();
}
