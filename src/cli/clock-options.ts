/** The options of the commands that tell of clocks. */
import type { CommonOptions } from './common-options.ts';

/** The options of `explain`. */
export interface ExplainOptions extends CommonOptions {
  readonly svg?: string;
}

/** The options of `meters`. */
export interface MetersOptions extends CommonOptions {
  readonly clock?: boolean;
  readonly meter?: string;
  readonly svg?: string;
}
