/** The work of `tallydock incidents`: one line for each. */
import { formatInstant, type Instant } from '../core/instant.ts';
import type { IncidentKind } from '../core/placement.ts';
import type { StoredIncident } from '../store/incidents.ts';
import type { CommonOptions } from './common-options.ts';
import { print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { withStore } from './with-store.ts';

/** Lists the incidents. */
export function listIncidents(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const incidents = store.incidents.list();
    if (options.json) for (const incident of incidents) await printJson(incidentJson(incident));
    else if (incidents.length === 0) await print('No incidents.\n');
    else await print(listText(incidents, zone));
  });
}

const NAMES: Readonly<Record<IncidentKind, string>> = {
  'power-loss': 'power lost',
  'clock-changed': 'clock changed',
  'fast-drift': 'clock drifts too fast',
  'memory-wrapped': 'memory wrapped',
  'deleted-on-meter': 'deleted on the meter',
};

function listText(incidents: readonly StoredIncident[], zone: string): string {
  const when = (at: Instant | undefined): string => (at === undefined ? 'open' : localMinute(at, zone));
  const heads = ['meter', 'what', `no earlier than (${zone})`, 'no later than', 'explanation'];
  return makeTable(heads).rows(
    incidents.map((i) => [
      i.meterId,
      NAMES[i.kind],
      when(i.earliest),
      when(i.latest),
      [i.explanation, i.likelyCause && `Likely: ${i.likelyCause}.`].filter(Boolean).join(' '),
    ]),
  );
}

/** One row of NDJSON, as the contract says; absent facts are null. */
function incidentJson(i: StoredIncident): Record<string, unknown> {
  return {
    meter_id: i.meterId,
    kind: i.kind,
    earliest: i.earliest === undefined ? null : formatInstant(i.earliest),
    latest: i.latest === undefined ? null : formatInstant(i.latest),
    size_s: i.sizeS ?? null,
    likely_cause: i.likelyCause,
    explanation: i.explanation,
    meter_model: i.meterModel,
  };
}
