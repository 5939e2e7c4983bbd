/**
 * `npm run conformance -- PORT`: holds the meter on a port to its protocol, clause by clause. It runs from the sources:
 * whoever makes a meter needs nothing but this checkout. protocols/CONFORMANCE.md says what is judged, and how.
 */
import { join } from 'node:path';
import { ensurePackages, root, runNode } from './steps.mjs';

ensurePackages();
process.exit(
  runNode(['--import', 'tsx', join(root, 'scripts', 'conformance', 'main.ts'), ...process.argv.slice(2)]).code,
);
