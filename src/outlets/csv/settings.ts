/** Settings of the CSV outlet, and what it is handed besides. */
import { z } from 'zod';
import type { Instant } from '../../core/instant.ts';

export const CsvSettings = z.strictObject({
  /** Where the files are written. */
  folder: z.string().min(1),
  /** One file for each local day of sending, or one that grows. */
  files: z.enum(['daily', 'one'], 'must be daily or one').default('daily'),
});
export type CsvSettings = z.infer<typeof CsvSettings>;

/** `zone` is the IANA zone whose days name the files. */
export interface CsvDeps {
  readonly zone: string;
  readonly now: () => Instant;
}
