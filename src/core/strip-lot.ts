/** A strip lot as printed on its box. Figures are kept as printed: their digits say how exact they are. */
export interface StripLot {
  readonly lot: string;
  /** `YYYY-MM-DD` or `YYYY-MM`. */
  readonly expiry?: string;
  /** What is keyed into the meter. */
  readonly code?: string;
  /** International sensitivity index, a decimal. */
  readonly isi?: string;
  /** Mean normal prothrombin time, seconds, a decimal. */
  readonly mnpt?: string;
}
