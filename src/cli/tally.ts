/**
 * The tally: our picture of a download. A row of strokes, one a test, bundled in fives as people count on paper.
 * Meaning rests on the shape alone, never on colour. Pure.
 */

/** One place in the row. */
export type Stroke = {
  readonly kind: 'patient' | 'control' | 'error';
  readonly isNew: boolean;
};

/** The characters of one style. */
interface Pens {
  readonly fresh: Readonly<Record<Stroke['kind'], string>>;
  readonly known: Readonly<Record<Stroke['kind'], string>>;
  readonly open: string;
  readonly torn: string;
}

// Every one of these is in the set that the fonts of a Windows console have had since the nineties (WGL4).
const BOX: Pens = {
  fresh: { patient: '║', control: '╨', error: '¦' },
  known: { patient: '│', control: '┴', error: ':' },
  open: '·',
  torn: '≈',
};
const ASCII: Pens = {
  fresh: { patient: '|', control: 'L', error: '!' },
  known: { patient: "'", control: ',', error: ':' },
  open: '_',
  torn: '~',
};

/** `box` strokes, or plain `ascii` where the terminal cannot show them. */
export type TallyStyle = 'box' | 'ascii';

/**
 * The style that a terminal can show: ASCII where TALLYDOCK_ASCII is set, on the `dumb` and `linux` text consoles, or
 * where a POSIX locale says that it is not UTF-8. Windows consoles show the strokes whatever the locale.
 */
export function tallyStyle(env: Readonly<Record<string, string | undefined>>, platform: NodeJS.Platform): TallyStyle {
  if (env['TALLYDOCK_ASCII'] || env['TERM'] === 'dumb' || env['TERM'] === 'linux') return 'ascii';
  if (platform === 'win32') return 'box';
  const locale = env['LC_ALL'] || env['LC_CTYPE'] || env['LANG'] || '';
  return /utf-?8/i.test(locale) || platform === 'darwin' ? 'box' : 'ascii';
}

export interface TallyRow {
  /** In the order of the row. */
  readonly strokes: readonly Stroke[];
  /** Tests still to come. */
  readonly open: number;
  /** True where the memory is full, so that older tests have been or will be overwritten: the row starts with a torn edge. */
  readonly isTorn: boolean;
}

/** The row as lines of at most `width` characters, broken between bundles. */
export function drawTally(row: TallyRow, style: TallyStyle, width: number): string[] {
  const pens = style === 'box' ? BOX : ASCII;
  const marks = row.strokes.map((stroke) => (stroke.isNew ? pens.fresh : pens.known)[stroke.kind]);
  for (let i = 0; i < row.open; i++) marks.push(pens.open);
  const bundles: string[] = row.isTorn ? [pens.torn] : [];
  for (let i = 0; i < marks.length; i += 5) bundles.push(marks.slice(i, i + 5).join(''));
  const lines: string[] = [];
  let line = '';
  for (const bundle of bundles) {
    if (line && line.length + 1 + bundle.length > width) {
      lines.push(line);
      line = '';
    }
    line = line ? `${line} ${bundle}` : bundle;
  }
  return line ? [...lines, line] : lines;
}

/** What the characters mean, in one line; only those that the row uses. */
export function tallyLegend(row: TallyRow, style: TallyStyle): string {
  const { fresh, known, open, torn } = style === 'box' ? BOX : ASCII;
  const has = (kind: Stroke['kind'], isNew: boolean) => row.strokes.some((s) => s.kind === kind && s.isNew === isNew);
  return [
    has('patient', true) && `${fresh.patient} new`,
    has('patient', false) && `${known.patient} known`,
    has('control', true) && `${fresh.control} new control`,
    has('control', false) && `${known.control} known control`,
    has('error', true) && `${fresh.error} new error`,
    has('error', false) && `${known.error} known error`,
    row.open > 0 && `${open} not read`,
    row.isTorn && `${torn} memory full: the oldest are overwritten`,
  ]
    .filter((part) => part !== false)
    .join('   ');
}
