/** What is said of a download that did not go as it should, alike by a call that collects and by a dock. */
import { Fault } from '../core/fault.ts';
import type { SteadyClock } from '../core/steady-clock.ts';
import type { StoredDownload } from '../store/downloads.ts';

/** A download that ended too early: why, as far as it was said, and what to do `next`. */
export function cutFault(port: string, cut: StoredDownload, said: Fault | undefined, next: string): Fault {
  const why = said ? `: ${said.message.replace(/[.]$/, '')}` : '';
  return new Fault(
    'DOWNLOAD_CUT',
    `The download from ${cut.meterModel} ${cut.meterId} on ${port} ended before all was read${why}`,
    `What was read is kept; ${next}`,
    { cause: said },
  );
}

/** The fault of a conversation during which the PC's clock was changed; undefined where it was not. */
export function stepFault(port: string, clock: SteadyClock): Fault | undefined {
  const stepS = clock.stepS();
  if (stepS === undefined) return undefined;
  return new Fault(
    'CLOCK_STEPPED',
    `The clock of this PC was changed by ${stepS} s while the meter on ${port} was read`,
    'What was read is kept, with wider bounds of its times. Check the clock of this PC, then read the meter once more.',
  );
}
