/**
 * The kinds of outlets that there are. To add one: its settings as a strict schema, its outlet in a folder of its own, a
 * row here, and a row in the contract tests (tests/outlets/contract.test.ts). Each is loaded only where it is used.
 */
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { CsvSettings } from './csv/settings.ts';
import { FhirFileSettings, FhirServerSettings } from './fhir/settings.ts';
import { Hl7FileSettings, Hl7MllpSettings } from './hl7/settings.ts';
import type { Outlet } from './outlet.ts';
import { PostgresSettings } from './postgres/settings.ts';
import { readSecret } from './secret.ts';

/** What outlets know of the gateway that feeds them. */
export interface Gateway {
  /** Name of this site: one gateway among many. */
  readonly site: string;
  /** IANA zone whose days name files. */
  readonly zone: string;
  /** A mark of this gateway's store. */
  readonly mark: string;
  readonly now: () => Instant;
}

/** One kind of outlet. */
export interface OutletKind {
  /** One plain sentence for lists. */
  readonly summary: string;
  /** The settings as texts, checked. Throws OUTLET_INVALID by the name of the setting. */
  check(given: Readonly<Record<string, string>>): void;
  /** Opens it. Rejects with OUTLET_INVALID. */
  open(given: Readonly<Record<string, string>>, gateway: Gateway): Promise<Outlet>;
  /** Makes what the receiver needs, where there is anything to make. */
  readonly prepare?: (given: Readonly<Record<string, string>>, partitions: number) => Promise<void>;
}

/** A kind from its schema and what it does with settings that have passed it. */
function kind<S>(
  summary: string,
  schema: z.ZodType<S>,
  open: (settings: S, gateway: Gateway) => Promise<Outlet>,
  prepare?: (settings: S, partitions: number) => Promise<void>,
): OutletKind {
  return {
    summary,
    check: (given) => void readSettings(schema, given),
    open: async (given, gateway) => open(readSettings(schema, given), gateway),
    ...(prepare
      ? { prepare: (given: Readonly<Record<string, string>>, n: number) => prepare(readSettings(schema, given), n) }
      : {}),
  };
}

const ServerWithToken = FhirServerSettings.extend({
  /** The bearer token is in this environment variable … */
  'token-env': z.string().min(1).optional(),
  /** … or in the first line of this file. */
  'token-file': z.string().min(1).optional(),
});

/** All kinds by name. */
export const OUTLET_KINDS: Readonly<Record<string, OutletKind>> = {
  csv: kind('rows at the end of CSV files in a folder', CsvSettings, async (settings, gateway) =>
    (await import('./csv/csv-outlet.ts')).csvOutlet(settings, gateway),
  ),
  postgres: kind(
    'tables in a PostgreSQL database, for many sites',
    PostgresSettings,
    async (settings, { site, mark }) =>
      (await import('./postgres/postgres-outlet.ts')).postgresOutlet(settings, { site, gateway: mark }),
    async (settings, partitions) =>
      (await import('./postgres/postgres-outlet.ts')).preparePostgres(settings, partitions),
  ),
  'fhir-file': kind('FHIR R4 resources in NDJSON files', FhirFileSettings, async (settings, gateway) =>
    (await import('./fhir/file-outlet.ts')).fhirFileOutlet(settings, gateway),
  ),
  'fhir-server': kind('transactions to a FHIR R4 server', ServerWithToken, async (given, gateway) => {
    const { 'token-env': env, 'token-file': file, ...settings } = given;
    const source = env === undefined ? (file === undefined ? undefined : { file }) : { env };
    const secret = (): string | undefined => source && readSecret(source);
    secret(); // a token that is missing is said at once, not at the first reading
    return (await import('./fhir/server-outlet.ts')).fhirServerOutlet(settings, { ...gateway, secret });
  }),
  'hl7-file': kind('HL7 v2.5.1 messages, one a file', Hl7FileSettings, async (settings, gateway) =>
    (await import('./hl7/file-outlet.ts')).hl7FileOutlet(settings, gateway),
  ),
  'hl7-mllp': kind('HL7 v2.5.1 messages over TCP (MLLP)', Hl7MllpSettings, async (settings, gateway) =>
    (await import('./hl7/mllp-outlet.ts')).hl7MllpOutlet(settings, gateway),
  ),
};

/** A kind by its name. Throws OUTLET_INVALID. */
export function kindOf(name: string): OutletKind {
  const found = Object.hasOwn(OUTLET_KINDS, name) ? OUTLET_KINDS[name] : undefined;
  if (found) return found;
  throw new Fault(
    'OUTLET_INVALID',
    `There is no kind of outlet "${name}"`,
    `Write one of ${Object.keys(OUTLET_KINDS).join(', ')}`,
  );
}

/** Settings from texts: a number or a truth value is read where the schema wants one. */
function readSettings<S>(schema: z.ZodType<S>, given: Readonly<Record<string, string>>): S {
  const first = schema.safeParse(given);
  if (first.success) return first.data;
  const wanted = new Map(
    first.error.issues.flatMap((issue) =>
      issue.code === 'invalid_type' ? [[String(issue.path[0]), String(issue.expected)]] : [],
    ),
  );
  const read = Object.entries(given).map(([key, text]) => [key, typed(text, wanted.get(key))]);
  const second = schema.safeParse(Object.fromEntries(read));
  if (second.success) return second.data;
  const [issue] = second.error.issues;
  const isUnknown = issue?.code === 'unrecognized_keys';
  const key = isUnknown ? (issue.keys[0] ?? '') : String(issue?.path[0] ?? '');
  const what = isUnknown
    ? 'is not a setting of this kind'
    : given[key] === undefined
      ? 'is missing'
      : wordsOf(issue?.message);
  throw new Fault(
    'OUTLET_INVALID',
    `Setting "${key}" ${what}`,
    'Write settings as --set NAME=VALUE; README lists those of each kind',
  );
}

function typed(text: string, wanted: string | undefined): unknown {
  if (wanted === 'boolean' && /^(true|false)$/.test(text)) return text === 'true';
  if ((wanted === 'number' || wanted === 'int') && /^-?\d+(\.\d+)?$/.test(text)) return Number(text);
  return text;
}

/** Our own messages are clauses that follow the name; the library's are made into one. */
const wordsOf = (message = ''): string => (/^(must|stands) /.test(message) ? message : `is wrong: ${message}`);
