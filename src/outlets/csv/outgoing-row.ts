/** One delivery as rows of the CSV outlet: the columns of `export csv`, and behind them what is told of each version. Pure. */
import type { Delivery } from '../outlet.ts';
import { CSV_COLUMNS, rowsOf, textCell } from './csv-row.ts';

/** The columns behind those of the export. README says what each holds. */
export const ADDED_COLUMNS = ['version', 'person_basis', 'target_low', 'target_high', 'standing'] as const;

/** The header row with its line end. */
export const OUTLET_HEADER = `${[...CSV_COLUMNS, ...ADDED_COLUMNS].join(',')}\r\n`;

/** Where `version` stands in a row, from 0. */
export const VERSION_CELL = CSV_COLUMNS.length;

/**
 * The rows of one delivery, each with its line end. `patient_id` is the clinic's own id. What must not be used any more
 * has the status `void`, whatever the reason.
 */
export function outgoingRows({ reading, isWithdrawn }: Delivery): string[] {
  const { id, meter, placement, flags, firstDownload, downloadedAt, patient, status } = reading;
  const { kind, values, errorCode, slot, runNumber, lot, lotExpiry, operator, target } = reading;
  const record = {
    kind,
    values,
    meterTimeText: reading.meterTime,
    ...(errorCode === undefined ? {} : { errorCode }),
    ...(slot === undefined ? {} : { slot }),
    ...(runNumber === undefined ? {} : { runNumber }),
    ...(lot === undefined ? {} : { lot }),
    ...(lotExpiry === undefined ? {} : { lotExpiry }),
    ...(operator === undefined ? {} : { operator }),
  };
  return rowsOf(
    {
      id,
      meter,
      record,
      ...(placement ? { placement } : {}),
      ...(patient ? { person: patient } : {}),
      flags,
      shown: isWithdrawn ? 'void' : status,
      firstDownload,
      downloadedAt,
    },
    [
      String(reading.version),
      reading.personBasis ?? '',
      textCell(target?.low),
      textCell(target?.high),
      reading.standing ?? '',
    ],
  );
}
