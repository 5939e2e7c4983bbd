/** `npm run documents`: writes the parts of documents that are made from the program's own lists. */
import { join } from 'node:path';
import { ensurePackages, root, runNode } from './steps.mjs';

ensurePackages();
process.exit(runNode(['--import', 'tsx', join(root, 'scripts', 'documents', 'write.ts')]).code);
