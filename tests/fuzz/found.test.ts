/**
 * Inputs that once broke a promise, tried again in every run: files in found/ named TARGET--WHAT.bin, the bytes as they
 * were fuzzed. How they are handed over (chunks, timers) is tried in several ways.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { numbersFrom } from '../support/numbers.ts';
import { targets } from './targets.ts';

const FOLDER = new URL('./found/', import.meta.url);
const files = readdirSync(FOLDER).filter((file) => file.endsWith('.bin'));

afterAll(async () => {
  for (const target of targets) await target.close?.();
});

describe('input that once broke a promise', () => {
  it('is kept by the name of its parser', () => {
    const names = targets.map((target) => target.name);
    expect(files.filter((file) => !names.includes(file.split('--')[0] ?? ''))).toEqual([]);
    expect(readdirSync(FOLDER).filter((file) => !file.endsWith('.bin') && file !== 'README.md')).toEqual([]);
  });

  it('breaks none now', async () => {
    for (const file of files) {
      const target = targets.find(({ name }) => name === file.split('--')[0]);
      const bytes = readFileSync(new URL(file, FOLDER));
      for (let seed = 1; seed <= 50; seed++)
        try {
          await target?.check(bytes, numbersFrom(seed));
        } catch (thrown) {
          expect.fail(`${file}, handed over as ${seed}: ${thrown}`);
        }
    }
  });
});
