/** What settling one download says, in the store's terms: the facts of the download and the incidents it tells. Pure. */
import type { Download } from '../core/download.ts';
import type { DownloadId } from '../core/reading.ts';
import type { MemoryState, Settled } from '../memory/state.ts';
import type { SettlingFacts } from '../store/downloads.ts';
import type { NewIncident } from '../store/incidents.ts';

/** The facts that stand beside a download. */
export const factsOf = (settled: Settled): SettlingFacts => ({
  new: settled.fresh,
  known: settled.known,
  vanished: settled.vanished.length,
  possiblyLost: settled.possiblyLost,
  runRestarted: settled.runRestarted,
  doubtful: settled.doubtful,
  ...(settled.memory === 0 ? {} : { memory: settled.memory }),
  ...(settled.after === undefined ? {} : { after: settled.after }),
  ...(settled.mayPrecede === undefined ? {} : { mayPrecede: settled.mayPrecede }),
});

/** What a download tells of the memory: tests perhaps overwritten unread, tests deleted, a name that two meters share. */
export function memoryIncidents(
  before: MemoryState,
  settled: Settled,
  download: Download,
  id: DownloadId,
): NewIncident[] {
  const span = { ...(before.last ? { earliest: before.last.at } : {}), latest: download.until, download: id };
  const incidents: NewIncident[] = [];
  if (settled.possiblyLost)
    incidents.push({
      ...span,
      kind: 'memory-wrapped',
      likelyCause: 'not collected in time',
      explanation: before.last
        ? 'Tests made since the last complete download may have been overwritten before they were read.'
        : 'The memory was full at the first download: older tests may have been overwritten before.',
    });
  const deleted = settled.vanished.filter((test) => test.how === 'deleted').length;
  if (deleted > 0)
    incidents.push({
      ...span,
      kind: 'deleted-on-meter',
      likelyCause: 'deleted by hand',
      explanation: `${deleted === 1 ? 'One test that was read before was' : `${deleted} tests that were read before were`} deleted on the meter; what was read is kept here.`,
    });
  if (settled.foundShared)
    incidents.push({
      ...span,
      kind: 'identity-shared',
      likelyCause: 'two meters with one serial number',
      explanation:
        'Two memories are told in turn under this serial number, so two meters use it, or an old memory was put back ' +
        'into the meter. Their tests are kept apart and each is here once, but they wait for a person, since it is not ' +
        'sure whose they are. Give one of the meters another serial number, or label both and read each on its own; ' +
        'what was said before of tests deleted or lost on this meter may come from this.',
    });
  return incidents;
}
