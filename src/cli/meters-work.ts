/** The work of `tallydock meters`: one line for each meter that was ever read. */

import { Fault } from '../core/fault.ts';
import { formatInstant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { MetersOptions } from './clock-options.ts';
import { print, printJson } from './output.ts';
import { clockOffText, localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { withStore } from './with-store.ts';

/** Lists the meters; with `clock` what is known of their clocks. Throws CALL_WRONG for a meter that is not there. */
export function listMeters(options: MetersOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const meters = store.meters.list().filter((meter) => options.meter === undefined || meter.id === options.meter);
    if (options.meter !== undefined && meters.length === 0)
      throw new Fault(
        'CALL_WRONG',
        `--meter: there is no meter "${options.meter}"`,
        'Run "tallydock meters" for those there are',
      );
    if (options.svg !== undefined && !options.clock) throw new Fault('CALL_WRONG', '--svg draws clocks', 'Add --clock');
    if (options.clock) {
      const { listClocks } = await import('./meter-clocks.ts');
      return listClocks(meters, options, store, zone);
    }
    const views = meters.map((meter): MeterView => {
      const downloads = store.downloads.list(meter.meterNo);
      const possiblyLost = downloads.some((d) => d.possiblyLost);
      return { meter, last: downloads.at(-1), readings: store.readings.count(meter.meterNo), possiblyLost };
    });
    if (options.json) for (const view of views) await printJson(meterJson(view));
    else if (views.length === 0) await print('No meters.\n');
    else await print(listText(views, zone));
  });
}

interface MeterView {
  readonly meter: StoredMeter;
  readonly last: StoredDownload | undefined;
  readonly readings: number;
  readonly possiblyLost: boolean;
}

function listText(views: readonly MeterView[], zone: string): string {
  const heads = ['meter', 'model', `last read (${zone})`, 'clock', '>readings', 'possibly lost'];
  return makeTable(heads).rows(
    views.map(({ meter, last, readings, possiblyLost }) => [
      meter.id,
      meter.model,
      last === undefined ? 'never' : localMinute(last.at, zone),
      clockText(last),
      String(readings),
      possiblyLost ? 'yes: see downloads' : 'no',
    ]),
  );
}

function clockText(last: StoredDownload | undefined): string {
  if (last?.clockOffS === undefined) return 'not seen';
  return `${clockOffText(last.clockOffS)}${last.clockSet ? ', then set' : ''}`;
}

function meterJson({ meter, last, readings, possiblyLost }: MeterView): Record<string, unknown> {
  return {
    meter_id: meter.id,
    meter_model: meter.model,
    firmware: meter.firmware ?? null,
    memory_order: meter.order,
    capacity: meter.capacity ?? null,
    last_download: last?.id ?? null,
    last_seen: last === undefined ? null : formatInstant(last.at),
    clock_off_s: last?.clockOffS ?? null,
    clock_set: last?.clockSet ?? null,
    readings,
    possibly_lost: possiblyLost,
  };
}
