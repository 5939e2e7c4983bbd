/** Which readings were written in a transaction, so that what follows from them can be made again and nothing else. */
import type { ReadingId } from '../core/reading.ts';

export interface ChangedReadings {
  note(id: ReadingId): void;
  /** Those noted since the last taking, in the order in which they were first noted. */
  take(): ReadingId[];
}

/** Nothing noted yet. */
export function makeChangedReadings(): ChangedReadings {
  let noted = new Set<ReadingId>();
  return {
    note: (id) => void noted.add(id),
    take() {
      const taken = [...noted];
      noted = new Set();
      return taken;
    },
  };
}
