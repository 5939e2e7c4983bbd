/** All clauses of TLP/1 in the order in which they are judged. */
import type { Clause } from '../verdict.ts';
import { CLOCK } from './clock.ts';
import { DAMAGE } from './damage.ts';
import { FORM } from './form.ts';
import type { LineHost } from './host.ts';
import { IDENTITY } from './identity.ts';
import { READING } from './reading.ts';
import { RESULTS } from './results.ts';
import { SELECTIVE } from './selective.ts';
import { SLEEP } from './sleep.ts';

export const LINE_CLAUSES: readonly Clause<LineHost>[] = [
  ...IDENTITY,
  ...CLOCK,
  ...READING,
  ...RESULTS,
  ...SELECTIVE,
  ...DAMAGE,
  ...SLEEP,
  ...FORM,
];
