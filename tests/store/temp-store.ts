/** A store in a folder of its own for one test; the folder goes when the test ends. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';

/** The moment at which every test store is made. */
export const MADE_AT = instant(Date.UTC(2026, 2, 2, 8, 0, 0));

/** A fresh folder, gone when the running test ends. */
export function tempFolder(): string {
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-test-'));
  onTestFinished(() => rmSync(dir, { recursive: true, force: true }));
  return dir;
}

/** An open store, by default in a fresh folder; closed when the running test ends. */
export function tempStore(dir: string = tempFolder()): Store {
  const store = openStore({ dir, now: MADE_AT });
  onTestFinished(() => store.close());
  return store;
}
