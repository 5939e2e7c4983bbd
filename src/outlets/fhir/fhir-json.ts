/**
 * JSON as FHIR wants it: decimals keep the digits that the meter showed (2.50 is not 2.5: FHIR R4, "JSON
 * representation", primitive types), text holds no control characters, one resource is one line.
 */

/** A decimal whose digits go out exactly as they stand. */
export class Decimal {
  /** A JSON number as text. */
  readonly digits: string;

  constructor(digits: string) {
    this.digits = digits;
  }
}

/** Anything that can be written as FHIR JSON. Absent members (`undefined`) are left out. */
export type Json = string | number | boolean | Decimal | readonly Json[] | { readonly [key: string]: Json | undefined };

/** One line of JSON, without a line break at the end. */
export function fhirJson(value: Json): string {
  if (value instanceof Decimal) return value.digits;
  if (typeof value !== 'object') return JSON.stringify(value);
  if (isList(value)) return `[${value.map(fhirJson).join(',')}]`;
  const members: string[] = [];
  for (const [key, member] of Object.entries(value))
    if (member !== undefined) members.push(`${JSON.stringify(key)}:${fhirJson(member)}`);
  return `{${members.join(',')}}`;
}

// Array.isArray does not narrow readonly arrays.
const isList = (value: Json): value is readonly Json[] => Array.isArray(value);

/**
 * Text as a FHIR string or code may hold it: control characters and half characters become spaces, spaces in a row
 * become one, none at the ends. Undefined where nothing is left, since FHIR knows no empty strings.
 */
export function fhirText(text: string | undefined): string | undefined {
  const clean = (text ?? '').replace(/[\p{Cc}\p{Cs}\s]+/gu, ' ').trim();
  return clean === '' ? undefined : clean;
}
