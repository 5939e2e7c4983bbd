/** Settings of the two FHIR outlets, as they stand in a config, and what they are handed besides. */
import { z } from 'zod';
import type { Instant } from '../../core/instant.ts';

const System = z.string().regex(/^[a-z][a-z0-9+.-]*:\S+$/, 'must be a web address or a URN such as urn:oid:2.999.1');

const naming = {
  /** Start of all identifier systems: the clinic's own web address for identifiers. Else a URN made of the site's name. */
  system: System.optional(),
  /** The system of the clinic's patient numbers, as the receiver knows it. */
  'patient-system': System.optional(),
};

/** NDJSON files in a folder. */
export const FhirFileSettings = z.strictObject({
  ...naming,
  /** Where the files are written. */
  folder: z.string().min(1),
  /** One file for each local day of sending, or one that grows. */
  files: z.enum(['daily', 'one'], 'must be daily or one').default('daily'),
});
export type FhirFileSettings = z.infer<typeof FhirFileSettings>;

/** Transactions to a server. */
export const FhirServerSettings = z.strictObject({
  ...naming,
  /** Base address of the server, as in https://record.example/fhir. */
  url: z.url({ protocol: /^https?$/, error: 'must be an address such as https://record.example/fhir' }),
  /** Longest wait for an answer, seconds. */
  timeout: z.int().min(1).max(600).default(30),
  /** Most readings in one transaction. */
  batch: z.int().min(1).max(500).default(50),
});
export type FhirServerSettings = z.infer<typeof FhirServerSettings>;

/** What both outlets are handed. */
export interface FhirDeps {
  /** Name of this site: one gateway among many. */
  readonly site: string;
  readonly now: () => Instant;
}
