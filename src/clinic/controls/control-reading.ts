/** One control test as the arithmetic is handed it. */
import type { TimeSpan } from '../facts.ts';
import type { ControlKind } from './level.ts';

/** A control test with its leading value. What the meter does not tell is absent. Void readings are not handed in. */
export interface ControlReading {
  /** The reading's id. */
  readonly id: string;
  readonly meter: string;
  readonly analyte: string;
  /** Absent: taken from the level that it is found to be. */
  readonly kind?: ControlKind;
  /** Lot of the strips. */
  readonly stripLot?: string;
  /** Lot of the control material. */
  readonly controlLot?: string;
  /** Name of the level, as told by the meter or said by a person. */
  readonly level?: string;
  readonly value: number;
  /** Set where the true value lies beyond the number shown. */
  readonly beyond?: '<' | '>';
  readonly time: TimeSpan;
  readonly operator?: string;
}
