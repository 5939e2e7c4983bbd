/**
 * What is said after a download: the tally, what was new, what had to be repaired, how the clock was, what to do next.
 * Pure.
 */
import type { ClockEvent } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import { clockOffText, localMinute } from './plain-time.ts';
import { printable } from './table.ts';
import { drawTally, type Stroke, type TallyStyle, tallyLegend } from './tally.ts';

/** What is known after one download. */
export interface DownloadFacts {
  readonly download: StoredDownload;
  /** Every test told, in the order of the tests. */
  readonly strokes: readonly Stroke[];
  readonly clock: readonly ClockEvent[];
  /** Slots of the memory, where known. */
  readonly capacity: number | undefined;
  /** True where the meter was found to have lost power since it was read before. */
  readonly hasLostPower: boolean;
  /** True where the target range set in the meter goes with the power. */
  readonly losesTargets: boolean;
  /** True where the gateway may set this meter's clock. */
  readonly isClockSettable: boolean;
  /** True time now, for the time to key in by hand. */
  readonly now: Instant;
}

/** Off by more than this, a clock that was not set deserves a sentence. */
const WORTH_SETTING_S = 60;

/** The summary, lines with their ends. */
export function summaryText(facts: DownloadFacts, style: TallyStyle, width: number): string {
  const { download: d, strokes, capacity } = facts;
  const isFull = d.held !== undefined && capacity !== undefined && d.held >= capacity;
  const row = { strokes, open: Math.max(0, (d.held ?? strokes.length) - strokes.length), isTorn: isFull };
  const lines = [
    ...drawTally(row, style, width - 2),
    tallyLegend(row, style),
    testsText(facts),
    damageText(d),
    d.vanished > 0
      ? `${count(d.vanished, 'test')} read before ${d.vanished === 1 ? 'is' : 'are'} no longer in the meter; kept here.`
      : '',
    d.possiblyLost ? 'Tests may have been overwritten before anybody read them: read this meter more often.' : '',
    clockText(facts),
    ...powerText(facts),
    `Next: ${nextText(d)}`,
  ];
  const head = `${d.meterModel} ${d.meterId} on ${d.port}`;
  return [head, ...lines.filter(Boolean).map((line) => `  ${line}`)].map((line) => `${printable(line)}\n`).join('');
}

const count = (n: number, word: string): string => `${n} ${word}${n === 1 ? '' : 's'}`;

function testsText({ download: d, strokes }: DownloadFacts): string {
  const told = d.held === undefined ? count(strokes.length, 'test') : `${strokes.length} of ${count(d.held, 'test')}`;
  const split = `${told} read: ${d.new} new, ${d.known} known.`;
  return d.complete ? `${split} Nothing was deleted on the meter.` : `${split} The rest was not read.`;
}

function damageText({ damagedLines, complete }: StoredDownload): string {
  if (damagedLines === 0) return '';
  const lines = `${count(damagedLines, 'damaged line')} came over the cable`;
  return complete ? `${lines}; all repaired.` : `${lines}.`;
}

function clockText({ download: d, clock, isClockSettable, now }: DownloadFacts): string {
  const set = clock.findLast((event) => event.kind === 'set');
  const seen = d.clockOffS === undefined ? undefined : clockOffText(d.clockOffS);
  const was = seen ?? (clock.some((event) => event.kind === 'unset') ? 'not set' : 'not seen');
  if (set?.outcome === 'confirmed') return `Clock: ${was}; set right just now.`;
  const byHand = `set it by hand to ${localMinute(now, d.zone)} (${d.zone})`;
  if (set) return `Clock: ${was}; setting it did not work: ${byHand}.`;
  const isWrong = was === 'not set' || Math.abs(d.clockOffS ?? 0) > WORTH_SETTING_S;
  if (!isWrong) return `Clock: ${was}.`;
  return `Clock: ${was}; ${isClockSettable ? 'it was left as it is' : byHand}.`;
}

function powerText({ download: d, hasLostPower, losesTargets }: DownloadFacts): string[] {
  if (!hasLostPower) return [];
  const gone = losesTargets ? 'date, time and target range' : 'date and time';
  const lost = `The meter has lost power: ${gone} must be entered again.`;
  if (!d.clockSet) return [lost];
  return [lost, `Date and time were set just now${losesTargets ? '; enter the target range on the meter' : ''}.`];
}

function nextText(d: StoredDownload): string {
  if (!d.complete) return 'run the same command again to read the rest';
  if (d.new === 0) return 'nothing to do';
  return `tallydock readings --meter ${/^[\w.-]+$/.test(d.meterId) ? d.meterId : `"${d.meterId}"`}`;
}
