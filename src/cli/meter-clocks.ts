/** The work of `tallydock meters --clock`: what is known of each meter's clock, in words, as JSON, as a picture. */
import { type MeterClock, meterClock } from '../clock/meter-clock.ts';
import { Fault } from '../core/fault.ts';
import { formatInstant, type Instant } from '../core/instant.ts';
import type { Incident } from '../core/placement.ts';
import { zoneOf } from '../core/zone.ts';
import { placeWhole } from '../intake/placing.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { Store } from '../store/store.ts';
import type { MetersOptions } from './clock-options.ts';
import { dataFolderOf } from './common-options.ts';
import { drawClock } from './draw-clock.ts';
import { print, printJson } from './output.ts';
import { clockOffText, localMinute } from './plain-time.ts';
import { printable } from './table.ts';

/** Tells of the clocks of these meters. */
export async function listClocks(
  meters: readonly StoredMeter[],
  options: MetersOptions,
  store: Store,
  zone: string,
): Promise<void> {
  if (options.svg !== undefined && meters.length !== 1)
    throw new Fault('CALL_WRONG', `--svg draws one meter, and there are ${meters.length}`, 'Name it with --meter');
  const profiles = loadProfiles(dataFolderOf(options));
  for (const meter of meters) {
    const last = store.downloads.list(meter.meterNo).at(-1);
    if (!last) continue;
    const placed = placeWhole(store, meter.meterNo, profiles.get(last.profile));
    const clock = meterClock(placed);
    if (options.json) await printJson(clockJson(meter, clock, placed.incidents));
    else await print(clockText(meter, clock, placed.incidents, zone, last.clockSet));
    if (options.svg === undefined) continue;
    const title = `The clock of ${meter.model} ${meter.id}`;
    await drawClock(options.svg, placed, { title, zone: zoneOf(last.zone) }, options);
  }
}

/** Seconds with a sign, as a person says them. */
const gains = (seconds: number): string =>
  Math.abs(seconds) < 0.5
    ? 'keeps time to half a second a month'
    : `${seconds > 0 ? 'gains' : 'loses'} ${Math.abs(seconds).toFixed(0)} s a month`;

function clockText(
  meter: StoredMeter,
  clock: MeterClock,
  incidents: readonly Incident[],
  zone: string,
  wasSet: boolean,
): string {
  const lines = [`${meter.model} ${meter.id}`];
  if (clock.offS === undefined || clock.seenAt === undefined) lines.push('  its clock was never seen');
  else {
    lines.push(
      `  clock      ${clockOffText(clock.offS)} on ${localMinute(clock.seenAt, zone)} (${zone})${wasSet ? ', then set right' : ''}`,
    );
  }
  lines.push(
    clock.drift
      ? `  drift      ${gains(clock.drift.secondsAMonth)} (${clock.drift.ppm.toFixed(1)} ppm, give or take ${clock.drift.sdPpm.toFixed(1)})`
      : '  drift      not known yet: it takes two downloads with an undisturbed clock between them',
  );
  lines.push(
    `  power lost ${times(clock.powerLosses)}${clock.lastPowerLoss ? `, last ${span(clock.lastPowerLoss, zone)}` : ''}`,
  );
  lines.push(`  changed    ${times(clock.clockChanges)}`);
  for (const i of incidents) lines.push(`    ${i.explanation}`);
  return `${lines.map(printable).join('\n')}\n`;
}

const times = (n: number): string => (n === 0 ? 'never, as far as is known' : n === 1 ? 'once' : `${n} times`);

function span({ earliest, latest }: Incident, zone: string): string {
  const at = (t: Instant | undefined): string => (t === undefined ? 'an unknown time' : localMinute(t, zone));
  return `between ${at(earliest)} and ${at(latest)}`;
}

function clockJson(meter: StoredMeter, clock: MeterClock, incidents: readonly Incident[]): Record<string, unknown> {
  const time = (at: Instant | undefined): string | null => (at === undefined ? null : formatInstant(at));
  return {
    meter_id: meter.id,
    meter_model: meter.model,
    clock_off_s: clock.offS ?? null,
    seen_at: time(clock.seenAt),
    drift_ppm: clock.drift?.ppm ?? null,
    drift_sd_ppm: clock.drift?.sdPpm ?? null,
    drift_s_a_month: clock.drift?.secondsAMonth ?? null,
    power_losses: clock.powerLosses,
    clock_changes: clock.clockChanges,
    incidents: incidents.map((i) => ({
      kind: i.kind,
      earliest: time(i.earliest),
      latest: time(i.latest),
      size_s: i.sizeS ?? null,
      likely_cause: i.likelyCause,
      explanation: i.explanation,
    })),
  };
}
