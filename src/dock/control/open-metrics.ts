/**
 * The figures of a daemon as OpenMetrics text, for a program that watches many PCs. Pure. Names of docks and outlets and
 * codes of faults are the only words in it: no meter, no patient.
 * Format: OpenMetrics 1.0, "Text Format" (https://prometheus.io/docs/specs/om/open_metrics_spec/).
 */
import type { Instant } from '../../core/instant.ts';
import type { DaemonFigures, DaemonStatus } from '../daemon.ts';
import { isToLookAt } from './to-look-at.ts';

type Labels = Readonly<Record<string, string>>;

interface Family {
  /** Without `tallydock_`; ends with the unit where there is one. */
  readonly name: string;
  readonly type: 'counter' | 'gauge' | 'info';
  readonly unit?: 'bytes' | 'seconds';
  readonly help: string;
  readonly samples: readonly (readonly [Labels, number])[];
}

/** What a sample of each type is called beyond its family. */
const SUFFIX = { counter: '_total', gauge: '', info: '_info' } as const;

/** The whole text, with its closing `# EOF`. */
export function openMetrics(status: DaemonStatus, figures: DaemonFigures, now: Instant): string {
  return `${families(status, figures, now).map(familyText).join('')}# EOF\n`;
}

function families(
  { version, startedAt, docks, outlets, warnings }: DaemonStatus,
  figures: DaemonFigures,
  now: Instant,
): Family[] {
  const { downloads, readings, bytes, damagedLines, troubles, freeBytes } = figures;
  const phases = [...new Set(docks.map((dock) => dock.phase))];
  return [
    { name: 'build', type: 'info', help: 'The program that runs.', samples: [[{ version }, 1]] },
    gauge('start_time_seconds', 'When the daemon started, seconds since 1970 UTC.', startedAt / 1000, 'seconds'),
    {
      name: 'docks',
      type: 'gauge',
      help: 'Docks by what they do.',
      samples: phases.map((phase) => [{ phase }, docks.filter((dock) => dock.phase === phase).length]),
    },
    {
      name: 'dock_trouble',
      type: 'gauge',
      help: '1 where a dock has trouble that somebody should look at, else 0.',
      samples: docks.map((dock) => [{ dock: dock.name }, isToLookAt(dock) ? 1 : 0]),
    },
    {
      name: 'outlet_waiting',
      type: 'gauge',
      help: 'Changes that an outlet has not been told of yet.',
      samples: outlets.map((outlet) => [{ outlet: outlet.name }, outlet.waiting]),
    },
    {
      name: 'outlet_oldest_seconds',
      type: 'gauge',
      unit: 'seconds',
      help: 'Age of the oldest change that an outlet has not been told of; 0 where none waits.',
      samples: outlets.map(({ name, oldestAt }) => [
        { outlet: name },
        oldestAt === undefined ? 0 : Math.max(0, (now - oldestAt) / 1000),
      ]),
    },
    {
      name: 'outlet_set_aside',
      type: 'gauge',
      help: 'Readings that the receiver of an outlet refused.',
      samples: outlets.map((outlet) => [{ outlet: outlet.name }, outlet.setAside]),
    },
    {
      name: 'outlet_trouble',
      type: 'gauge',
      help: '1 where an outlet cannot be reached, else 0.',
      samples: outlets.map((outlet) => [{ outlet: outlet.name }, outlet.trouble ? 1 : 0]),
    },
    gauge('warnings', 'Sentences that somebody should read; see tallydock status.', warnings.length),
    {
      name: 'downloads',
      type: 'counter',
      help: 'Downloads since the start: complete, or cut.',
      samples: [
        [{ outcome: 'complete' }, downloads.complete],
        [{ outcome: 'cut' }, downloads.cut],
      ],
    },
    {
      name: 'readings',
      type: 'counter',
      help: 'Readings told by meters since the start: new, or known from before.',
      samples: [
        [{ seen: 'new' }, readings.new],
        [{ seen: 'known' }, readings.known],
      ],
    },
    counter('wire_bytes', 'Bytes from and to meters since the start.', bytes, 'bytes'),
    counter('damaged_lines', 'Lines that came damaged and were asked again or counted.', damagedLines),
    {
      name: 'troubles',
      type: 'counter',
      help: 'Troubles at docks since the start, by the code of the fault.',
      samples: [...troubles].map(([code, times]) => [{ code }, times]),
    },
    ...(freeBytes === undefined
      ? []
      : [gauge('free_bytes', 'Room left on the disk of the store, bytes.', freeBytes, 'bytes')]),
  ];
}

const gauge = (name: string, help: string, value: number, unit?: 'bytes' | 'seconds'): Family => ({
  name,
  type: 'gauge',
  ...(unit ? { unit } : {}),
  help,
  samples: [[{}, value]],
});

const counter = (name: string, help: string, value: number, unit?: 'bytes' | 'seconds'): Family => ({
  ...gauge(name, help, value, unit),
  type: 'counter',
});

function familyText({ name, type, unit, help, samples }: Family): string {
  const full = `tallydock_${name}`;
  return [
    `# TYPE ${full} ${type}`,
    ...(unit ? [`# UNIT ${full} ${unit}`] : []),
    `# HELP ${full} ${escaped(help)}`,
    ...samples.map(([labels, value]) => `${full}${SUFFIX[type]}${labelsText(labels)} ${value}`),
  ]
    .map((line) => `${line}\n`)
    .join('');
}

function labelsText(labels: Labels): string {
  const pairs = Object.entries(labels).map(([name, value]) => `${name}="${escaped(value)}"`);
  return pairs.length > 0 ? `{${pairs.join(',')}}` : '';
}

const escaped = (text: string): string => text.replace(/[\\"]/g, '\\$&').replace(/\n/g, '\\n');
