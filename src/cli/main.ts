#!/usr/bin/env node
/**
 * The program `tallydock`. Only what every call needs is loaded here: the version is answered before anything else is
 * read from disk, and each command brings its own libraries when it is called.
 */
import { readFileSync } from 'node:fs';

const args = process.argv.slice(2);

if (args[0] === '--version' || args[0] === '-V') {
  const manifest: { version: string } = JSON.parse(
    readFileSync(new URL('../../package.json', import.meta.url), 'utf8'),
  );
  process.stdout.write(`${manifest.version}\n`);
} else {
  const { run } = await import('./program.ts');
  process.exitCode = await run(args);
}
