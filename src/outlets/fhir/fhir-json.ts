/**
 * JSON as FHIR wants it: decimals keep the digits that the meter showed (2.50 is not 2.5: FHIR R4, "JSON
 * representation", primitive types), text holds no control characters, one resource is one line.
 */

// No text that is sent holds a control character (`fhirText`), so this begins no other string.
const MARK = '\u0000';
const MARKED = /"\\u0000([^"]*)"/g;

/** A decimal whose digits go out exactly as they stand. */
export class Decimal {
  /** A JSON number as text. */
  readonly digits: string;

  constructor(digits: string) {
    this.digits = digits;
  }

  /** For JSON.stringify alone: a marked text, from which `fhirJson` makes the number. */
  toJSON(): string {
    return MARK + this.digits;
  }
}

/** Anything that can be written as FHIR JSON. Absent members (`undefined`) are left out. */
export type Json = string | number | boolean | Decimal | readonly Json[] | { readonly [key: string]: Json | undefined };

/** One line of JSON, without a line break at the end. */
export const fhirJson = (value: Json): string => JSON.stringify(value).replace(MARKED, '$1');

/**
 * Text as a FHIR string or code may hold it: control characters and half characters become spaces, spaces in a row
 * become one, none at the ends. Undefined where nothing is left, since FHIR knows no empty strings.
 */
export function fhirText(text: string | undefined): string | undefined {
  const clean = (text ?? '').replace(/[\p{Cc}\p{Cs}\s]+/gu, ' ').trim();
  return clean === '' ? undefined : clean;
}
