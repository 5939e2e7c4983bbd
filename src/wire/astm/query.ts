/**
 * What the gateway says to a meter that waits to be asked: the one message `H`, `Q`, `L` for every result in the
 * memory. The form is explained in protocols/astm/README.md.
 */
import { encodeMessage } from './frame-writer.ts';
import { record, writeRecord } from './records.ts';

/** The records of the query: all patients, all tests, from as far back as possible. */
export const QUERY_RECORDS: readonly string[] = [
  record('H', '', '', '', 'tallydock', '', '', '', '', '', '', 'P', 'LIS2-A2'),
  record('Q', '1', 'ALL', '', 'ALL'),
  record('L', '1', 'N'),
].map((r) => writeRecord(r));

/** The query as frames. */
export const queryFrames = (): Uint8Array[] => encodeMessage(QUERY_RECORDS);
