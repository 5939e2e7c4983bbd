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
  /** Name of this site, one gateway among many; absent where nobody has given it a name. */
  readonly site?: string;
  /** IANA zone whose days name files. */
  readonly zone: string;
  /** A mark of this gateway's store. */
  readonly mark: string;
  readonly now: () => Instant;
}

/** Settings as they are given and stored: texts by name. */
export type GivenSettings = Readonly<Record<string, string>>;

/** One kind of outlet. Every function throws or rejects with OUTLET_INVALID by the name of a setting that is wrong. */
export interface OutletKind {
  /** One plain sentence for lists. */
  readonly summary: string;
  /** What its settings must be. */
  readonly settings: z.ZodType;
  /** Looks at the settings only. */
  check(given: GivenSettings, gateway: Gateway): void;
  open(given: GivenSettings, gateway: Gateway): Promise<Outlet>;
  /** Asks the receiver whether it is there, without a reading. Rejects with OUTLET_DOWN. */
  reach(given: GivenSettings, gateway: Gateway, signal: AbortSignal): Promise<void>;
  /** Makes what the receiver needs; absent where there is nothing to make. */
  readonly prepare?: (given: GivenSettings, partitions: number) => Promise<void>;
}

/** A gateway whose site has a name: receivers of several gateways tell them apart by it. */
type NamedGateway = Gateway & { readonly site: string };

/** What makes a kind. */
interface Making<S> {
  readonly summary: string;
  readonly settings: z.ZodType<S>;
  /** True where nothing that is sent says which site it is from. */
  readonly isWithoutSite?: boolean;
  readonly open: (settings: S, gateway: NamedGateway) => Promise<Outlet>;
  /** Absent: an empty batch is handed over, which reaches as far as a full one. */
  readonly reach?: (settings: S, signal: AbortSignal) => Promise<void>;
  readonly prepare?: (settings: S, partitions: number) => Promise<void>;
}

function kind<S>({ summary, settings, isWithoutSite, open, reach, prepare }: Making<S>): OutletKind {
  const known = (gateway: Gateway): NamedGateway =>
    isWithoutSite ? { ...gateway, site: gateway.site ?? '' } : named(gateway);
  const opened = async (given: GivenSettings, gateway: Gateway): Promise<Outlet> =>
    open(readSettings(settings, given), known(gateway));
  return {
    summary,
    settings,
    check(given, gateway) {
      readSettings(settings, given);
      known(gateway);
    },
    open: opened,
    async reach(given, gateway, signal) {
      const outlet = await opened(given, gateway);
      try {
        if (reach) await reach(readSettings(settings, given), signal);
        else await outlet.send([], signal);
      } finally {
        await outlet.close();
      }
    },
    ...(prepare ? { prepare: (given: GivenSettings, n: number) => prepare(readSettings(settings, given), n) } : {}),
  };
}

function named(gateway: Gateway): NamedGateway {
  if (gateway.site !== undefined) return { ...gateway, site: gateway.site };
  throw new Fault(
    'OUTLET_INVALID',
    'This site has no name, by which receivers tell gateways apart',
    'Write it into config.toml, for instance site = "Port Alder"',
  );
}

const ServerWithToken = FhirServerSettings.extend({
  /** The bearer token is in this environment variable … */
  'token-env': z.string().min(1).optional(),
  /** … or in the first line of this file. */
  'token-file': z.string().min(1).optional(),
});

/** All kinds by name. */
export const OUTLET_KINDS: Readonly<Record<string, OutletKind>> = {
  csv: kind({
    summary: 'rows at the end of CSV files in a folder',
    settings: CsvSettings,
    isWithoutSite: true,
    open: async (settings, gateway) => (await import('./csv/csv-outlet.ts')).csvOutlet(settings, gateway),
  }),
  postgres: kind({
    summary: 'tables in a PostgreSQL database, for many sites',
    settings: PostgresSettings,
    open: async (settings, { site, mark }) =>
      (await import('./postgres/postgres-outlet.ts')).postgresOutlet(settings, { site, gateway: mark }),
    prepare: async (settings, partitions) =>
      (await import('./postgres/postgres-outlet.ts')).preparePostgres(settings, partitions),
  }),
  'fhir-file': kind({
    summary: 'FHIR R4 resources in NDJSON files',
    settings: FhirFileSettings,
    open: async (settings, gateway) => (await import('./fhir/file-outlet.ts')).fhirFileOutlet(settings, gateway),
  }),
  'fhir-server': kind({
    summary: 'transactions to a FHIR R4 server',
    settings: ServerWithToken,
    async open({ 'token-env': env, 'token-file': file, ...settings }, gateway) {
      const source = env === undefined ? (file === undefined ? undefined : { file }) : { env };
      const secret = (): string | undefined => source && readSecret(source);
      secret(); // a token that is missing is said at once, not at the first reading
      return (await import('./fhir/server-outlet.ts')).fhirServerOutlet(settings, { ...gateway, secret });
    },
    reach: ({ url, timeout }, signal) => askServer(url, timeout, signal),
  }),
  'hl7-file': kind({
    summary: 'HL7 v2.5.1 messages, one a file',
    settings: Hl7FileSettings,
    open: async (settings, gateway) => (await import('./hl7/file-outlet.ts')).hl7FileOutlet(settings, gateway),
  }),
  'hl7-mllp': kind({
    summary: 'HL7 v2.5.1 messages over TCP (MLLP)',
    settings: Hl7MllpSettings,
    open: async (settings, gateway) => (await import('./hl7/mllp-outlet.ts')).hl7MllpOutlet(settings, gateway),
    reach: async (settings, signal) =>
      (await (await import('./hl7/mllp-connection.ts')).connectMllp(settings, signal)).close(),
  }),
};

/** Asks a FHIR server for its capability statement (FHIR R4, "capabilities" interaction), which needs no token. */
async function askServer(url: string, timeoutS: number, signal: AbortSignal): Promise<void> {
  const address = `${url.replace(/\/+$/, '')}/metadata`;
  const down = (why: string, cause?: unknown): Fault =>
    new Fault('OUTLET_DOWN', `The FHIR server ${new URL(url).host} ${why}`, 'Check the network and the address', {
      cause,
    });
  try {
    const response = await fetch(address, {
      headers: { accept: 'application/fhir+json' },
      redirect: 'manual',
      signal: AbortSignal.any([signal, AbortSignal.timeout(timeoutS * 1000)]),
    });
    await response.body?.cancel();
    if (!response.ok) throw down(`answered ${response.status} to ${address}`);
  } catch (thrown) {
    throw thrown instanceof Fault ? thrown : down('does not answer', thrown);
  }
}

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
