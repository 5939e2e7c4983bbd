/**
 * The parts of FHIR R4 (4.0.1) that are sent, as types: only the elements that are used. What is built from them is
 * checked in the tests against the published definitions.
 */
import type { Decimal } from './fhir-json.ts';

export type Identifier = { readonly system: string; readonly value: string };
export type Coding = { readonly system: string; readonly code: string; readonly display?: string | undefined };
export type CodeableConcept = { readonly coding?: readonly Coding[]; readonly text?: string | undefined };
/** By literal reference, or by identifier alone where the thing is not sent. */
export type Reference = {
  readonly reference?: string;
  readonly type?: string;
  readonly identifier?: Identifier;
  readonly display?: string;
};
export type Quantity = {
  readonly value: Decimal;
  readonly comparator?: '<' | '>' | undefined;
  readonly unit?: string | undefined;
  readonly system?: string | undefined;
  readonly code?: string | undefined;
};
export type Extension = {
  readonly url: string;
  readonly valueCode?: string;
  readonly valueString?: string;
  readonly valueReference?: Reference;
};
export type Meta = { readonly versionId?: string | undefined; readonly tag?: readonly Coding[] | undefined };

export type Patient = {
  readonly resourceType: 'Patient';
  readonly identifier: readonly Identifier[];
  readonly name?: readonly { readonly text: string }[] | undefined;
  readonly birthDate?: string | undefined;
};

export type Device = {
  readonly resourceType: 'Device';
  readonly identifier: readonly Identifier[];
  readonly expirationDate?: string | undefined;
  readonly lotNumber?: string | undefined;
  readonly serialNumber?: string | undefined;
  readonly deviceName?:
    | readonly { readonly name: string; readonly type: 'user-friendly-name' | 'model-name' }[]
    | undefined;
  readonly modelNumber?: string | undefined;
  readonly type: CodeableConcept;
  readonly version?: readonly { readonly value: string }[] | undefined;
};

/** What an Observation says of when: one of the two, or neither with the reason in the extension. */
export type Effective = {
  readonly effectiveDateTime?: string | undefined;
  readonly _effectiveDateTime?: { readonly extension: readonly Extension[] } | undefined;
  readonly effectivePeriod?:
    | {
        readonly extension?: readonly Extension[] | undefined;
        readonly start?: string | undefined;
        readonly end?: string | undefined;
      }
    | undefined;
};

export type ObservationStatus = 'preliminary' | 'final' | 'amended' | 'corrected' | 'entered-in-error';

export type Observation = Effective & {
  readonly resourceType: 'Observation';
  readonly extension?: readonly Extension[] | undefined;
  readonly identifier: readonly Identifier[];
  readonly status: ObservationStatus;
  readonly category?: readonly CodeableConcept[] | undefined;
  readonly code: CodeableConcept;
  readonly subject?: Reference | undefined;
  readonly issued?: string | undefined;
  readonly performer?: readonly Reference[] | undefined;
  readonly valueQuantity?: Quantity | undefined;
  readonly valueString?: string | undefined;
  readonly valueDateTime?: string | undefined;
  readonly dataAbsentReason?: CodeableConcept | undefined;
  readonly interpretation?: readonly CodeableConcept[] | undefined;
  readonly note?: readonly { readonly text: string }[] | undefined;
  readonly device?: Reference | undefined;
  readonly referenceRange?:
    | readonly {
        readonly low?: Quantity | undefined;
        readonly high?: Quantity | undefined;
        readonly type: CodeableConcept;
      }[]
    | undefined;
  readonly derivedFrom?: readonly Reference[] | undefined;
};

export type Provenance = {
  readonly resourceType: 'Provenance';
  readonly meta: Meta;
  readonly target: readonly Reference[];
  readonly occurredDateTime: string;
  readonly recorded: string;
  readonly activity: CodeableConcept;
  readonly agent: readonly { readonly type: CodeableConcept; readonly who: Reference }[];
  readonly entity: readonly { readonly role: 'source'; readonly what: Reference }[];
};

export type FhirResource = Patient | Device | Observation | Provenance;
