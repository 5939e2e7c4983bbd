/** What a dock does, in sentences. Pure. */
import type { DeskDock } from '../../api/live.ts';
import type { Format } from '../format.ts';
import { clockWords } from '../meters/incident-words.ts';
import type { Words } from '../words.ts';

/** One sentence; those that need somebody are marked, and so is news: the end of a download, and trouble. */
export interface DockSentence {
  readonly says: string;
  readonly needsYou: boolean;
  readonly isNews: boolean;
}

/** A clock off by less than this is as good as right. */
const WORTH_SAYING_S = 60;

/** True where nothing stands on the dock. */
export const isEmpty = ({ phase, meter }: DeskDock): boolean =>
  phase === 'absent' ||
  (meter === undefined && (phase === 'resting' || phase === 'opening' || phase === 'identifying'));

/** What is to be said of a dock, in the order of what matters now. */
export function dockSentences(dock: DeskDock, words: Words, format: Format): DockSentence[] {
  const { dock: w, terms } = words;
  const plain = (says: string): DockSentence => ({ says, needsYou: false, isNews: false });
  const news = (says: string): DockSentence => ({ says, needsYou: false, isNews: true });
  const asking = (says: string): DockSentence => ({ says, needsYou: true, isNews: true });
  const number = (n: number): string => format.number(n, 0);
  const { phase, last, read, held } = dock;
  if (isEmpty(dock)) {
    const before = last ? w.last(last.meterId, format.moment(last.at)) : w.lastNone;
    return [...(phase === 'absent' ? [plain(w.phase.absent)] : []), plain(before), ...troubleOf(dock, words, format)];
  }
  if (phase === 'reading')
    return [plain(held === undefined ? w.readingSome(number(read ?? 0)) : w.reading(number(read ?? 0), number(held)))];
  if (phase !== 'docked' && phase !== 'resting') return [plain(w.phase[phase])];
  const isThis = last !== undefined && (dock.meter === undefined || last.meterId === dock.meter.id);
  if (!isThis) return [...(phase === 'docked' ? [plain(w.docked)] : []), ...troubleOf(dock, words, format)];
  const stored = (last.complete ? w.stored : w.storedPart)(number(last.new), number(last.known));
  return [
    last.complete ? news(stored) : asking(stored),
    ...(last.waiting > 0 ? [asking(w.wait(format.count(last.waiting, terms.readings)))] : []),
    ...clockOf(last, words, format).map(last.clockSet ? news : asking),
    ...troubleOf(dock, words, format),
  ];
}

function clockOf({ clockOffS, clockSet }: NonNullable<DeskDock['last']>, words: Words, format: Format): string[] {
  if (clockOffS === undefined || Math.abs(clockOffS) < WORTH_SAYING_S) return [];
  const off = clockWords(clockOffS, words, format);
  return [clockSet ? words.dock.clockSet(off) : words.dock.clockOff(off)];
}

/** Trouble in the catalogue's words, with its next step and when it is tried again. */
function troubleOf(
  { trouble, nextTryAt, meter, phase }: DeskDock,
  { faults, dock }: Words,
  format: Format,
): DockSentence[] {
  // Nobody on an empty dock answers, and a cable that is not plugged in is said already: that is no trouble.
  const isSaid = phase === 'absent' && trouble?.code === 'PORT_MISSING';
  if (!trouble || isSaid || (trouble.code === 'METER_SILENT' && meter === undefined)) return [];
  const { says, todo } = faults[trouble.code] ?? { says: trouble.message, todo: trouble.hint };
  const again = nextTryAt === undefined ? '' : ` ${dock.resting(format.time(nextTryAt))}`;
  return [{ says: `${says} ${todo}${again}`, needsYou: true, isNews: true }];
}
