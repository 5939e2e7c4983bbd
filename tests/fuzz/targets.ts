/** Every parser that is fuzzed, by name. Another one is a `Target` in targets/ and a place in this list. */
import type { Target } from './target.ts';
import { astmTargets } from './targets/astm.ts';
import { deskTargets } from './targets/desk.ts';
import { fileTargets } from './targets/files.ts';
import { lineTargets } from './targets/line.ts';
import { tableTargets } from './targets/tables.ts';

/** All of them. */
export const targets: readonly Target[] = [
  ...lineTargets,
  ...astmTargets,
  ...fileTargets,
  ...tableTargets,
  ...deskTargets,
];
