/** All clauses of E1381 and E1394 in the order in which they are judged. */
import type { Clause } from '../verdict.ts';
import { AGAIN_CLAUSES } from './again.ts';
import { ASKING_CLAUSES } from './asking.ts';
import { CALLING_CLAUSES } from './calling.ts';
import { FACT_CLAUSES } from './facts.ts';
import type { AstmHost } from './host.ts';
import { RECORD_CLAUSES } from './records.ts';
import { REFUSING_CLAUSES } from './refusing.ts';

export const ASTM_CLAUSES: readonly Clause<AstmHost>[] = [
  ...CALLING_CLAUSES,
  ...REFUSING_CLAUSES,
  ...RECORD_CLAUSES,
  ...FACT_CLAUSES,
  ...AGAIN_CLAUSES,
  ...ASKING_CLAUSES,
];
