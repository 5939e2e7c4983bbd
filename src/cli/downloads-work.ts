/** The work of `tallydock downloads`: one line for each download, oldest first. */
import { formatInstant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { CommonOptions } from './common-options.ts';
import { print, printJson } from './output.ts';
import { clockOffText, localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { withStore } from './with-store.ts';

/** Lists the downloads. */
export function listDownloads(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const downloads = store.downloads.list();
    if (options.json) for (const download of downloads) await printJson(downloadJson(download));
    else if (downloads.length === 0) await print('No downloads.\n');
    else await print(listText(downloads, zone));
  });
}

function listText(downloads: readonly StoredDownload[], zone: string): string {
  const heads = ['download', 'meter', `time (${zone})`, '>held', '>new', '>known', '>gone', 'clock', 'remarks'];
  return makeTable(heads).rows(
    downloads.map((d) => [
      d.id,
      d.meterId,
      localMinute(d.at, zone),
      d.held === undefined ? '' : String(d.held),
      String(d.new),
      String(d.known),
      String(d.vanished),
      d.clockOffS === undefined ? 'not seen' : clockOffText(d.clockOffS),
      remarks(d),
    ]),
  );
}

function remarks(d: StoredDownload): string {
  return [
    d.complete ? '' : 'not complete',
    d.clockSet ? 'clock set' : '',
    d.possiblyLost ? 'tests may be lost' : '',
    d.runRestarted ? 'run numbers restarted' : '',
    d.damagedLines > 0 ? `${d.damagedLines} damaged lines` : '',
  ]
    .filter(Boolean)
    .join(', ');
}

/** One row of NDJSON, as the contract says; absent facts are null. */
export function downloadJson(d: StoredDownload): Record<string, unknown> {
  return {
    id: d.id,
    meter_id: d.meterId,
    at: formatInstant(d.at),
    complete: d.complete,
    held: d.held ?? null,
    new: d.new,
    known: d.known,
    vanished: d.vanished,
    possibly_lost: d.possiblyLost,
    clock_off_s: d.clockOffS ?? null,
    clock_set: d.clockSet,
    bytes: d.bytes,
    damaged_lines: d.damagedLines,
    retries: d.retries,
    duration_s: d.durationMs / 1000,
    meter_model: d.meterModel,
    port: d.port,
    profile: d.profile,
    zone: d.zone,
    cut: d.cut ?? null,
  };
}
