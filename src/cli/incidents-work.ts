/** The work of `tallydock incidents`: one line for each. */
import { formatInstant, type Instant } from '../core/instant.ts';
import type { IncidentKind } from '../core/placement.ts';
import type { StoredIncident } from '../store/incidents.ts';
import type { CommonOptions } from './common-options.ts';
import { print, printJson } from './output.ts';
import { localMinute } from './plain-time.ts';
import { printable } from './table.ts';
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
  'identity-shared': 'two meters use one serial number',
};

/** A block for each: a sentence in a table column would push everything else off the screen. */
function listText(incidents: readonly StoredIncident[], zone: string): string {
  return incidents.map((incident) => blockText(incident, zone)).join('\n');
}

function blockText(i: StoredIncident, zone: string): string {
  const lines = [
    `${i.meterModel} ${i.meterId}: ${NAMES[i.kind]}, ${whenText(i.earliest, i.latest, zone)} (${zone})`,
    `  ${i.explanation}`,
    // What the clock room explains names its cause already.
    i.source === 'settling' && i.likelyCause !== '' ? `  Likely cause: ${i.likelyCause}` : '',
  ];
  return lines
    .filter(Boolean)
    .map((line) => `${printable(line)}\n`)
    .join('');
}

function whenText(earliest: Instant | undefined, latest: Instant | undefined, zone: string): string {
  if (earliest === undefined)
    return latest === undefined ? 'at an unknown time' : `before ${localMinute(latest, zone)}`;
  if (latest === undefined) return `after ${localMinute(earliest, zone)}`;
  return `between ${localMinute(earliest, zone)} and ${localMinute(latest, zone)}`;
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
