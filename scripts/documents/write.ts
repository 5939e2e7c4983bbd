/** Writes the parts of documents that are made from the program's own lists; run by `npm run documents`. */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { MARKED_PARTS, withPart } from './marked-parts.ts';

const root = fileURLToPath(new URL('../..', import.meta.url));
for (const [name, { file, text }] of Object.entries(MARKED_PARTS)) {
  const path = join(root, file);
  const before = readFileSync(path, 'utf8');
  const after = withPart(before, name, text());
  if (after !== before) writeFileSync(path, after);
  console.log(`${file}: ${name} ${after === before ? 'was current' : 'written'}`);
}
