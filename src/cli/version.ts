/** The version of this program, as package.json has it. */
import { readFileSync } from 'node:fs';

/** The version; from src/cli/ and dist/cli/ alike. */
export function programVersion(): string {
  const manifest: { version: string } = JSON.parse(
    readFileSync(new URL('../../package.json', import.meta.url), 'utf8'),
  );
  return manifest.version;
}
