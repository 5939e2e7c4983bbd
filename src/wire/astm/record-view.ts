/**
 * A record of E1394 read where it is asked for: only the fields that somebody wants are cut out of its text, since a full
 * memory is thousands of records. Tolerant and exact; what a field means is not its business.
 */
import { bad, good, type Parsed } from '../../core/fault.ts';
import type { Delimiters } from './delimiters.ts';
import { unescapeText } from './escapes.ts';

/** Header, patient, query, order, result, comment, manufacturer, scientific, terminator. */
export type RecordType = 'H' | 'P' | 'Q' | 'O' | 'R' | 'C' | 'M' | 'S' | 'L';
const TYPES = 'HPQORCMSL';

/** One record. Fields, repeats and components are counted from 1; what is not there is an empty text. */
export class RecordView {
  readonly type: RecordType;
  /** Number of fields, with empty ones at the end. */
  readonly size: number;
  private readonly text: string;
  private readonly d: Delimiters;
  /** Where each field delimiter stands. */
  private readonly marks: number[];
  private readonly hasEscapes: boolean;
  private readonly hasRepeats: boolean;

  constructor(type: RecordType, text: string, d: Delimiters) {
    this.type = type;
    this.text = text;
    this.d = d;
    // One walk over the text: a search for each mark would cost more than the few characters between two of them.
    const fieldMark = d.field.charCodeAt(0);
    const escapeMark = d.escape.charCodeAt(0);
    const repeatMark = d.repeat.charCodeAt(0);
    const marks: number[] = [];
    let hasEscapes = false;
    let hasRepeats = false;
    for (let at = 0; at < text.length; at++) {
      const c = text.charCodeAt(at);
      if (c === fieldMark) marks.push(at);
      else if (c === escapeMark) hasEscapes = true;
      else if (c === repeatMark) hasRepeats = true;
    }
    this.marks = marks;
    this.size = marks.length + 1;
    this.hasEscapes = hasEscapes && type !== 'M'; // E1394 knows no escapes in manufacturer records
    this.hasRepeats = hasRepeats;
  }

  private start(n: number): number {
    return n === 1 ? 0 : n <= this.size ? (this.marks[n - 2] as number) + 1 : this.text.length;
  }
  private end(n: number): number {
    return n < this.size ? (this.marks[n - 1] as number) : this.text.length;
  }

  /** True where nothing stands in field n. */
  isEmpty(n: number): boolean {
    return this.start(n) === this.end(n);
  }

  /** Field n as one text; components and repeats joined by `^` and `\`. */
  field(n: number): string {
    if (this.isEmpty(n)) return '';
    const raw = this.text.slice(this.start(n), this.end(n));
    const { component, repeat } = this.d;
    const isUsual = (component === '^' || !raw.includes(component)) && (repeat === '\\' || !this.hasRepeats);
    if (!this.hasEscapes && isUsual) return raw;
    return this.parts(n)
      .map((parts) => parts.join('^'))
      .join('\\');
  }

  /** Component c of the first repeat of field n. */
  component(n: number, c: number): string {
    let start = this.start(n);
    const end = this.firstEnd(n);
    const mark = this.d.component.charCodeAt(0);
    // Never looked for beyond the field: most fields are short or empty, and a search would run on through the record.
    let at = start;
    for (let left = c; ; left--) {
      while (at < end && this.text.charCodeAt(at) !== mark) at++;
      if (left === 1) break;
      if (at >= end) return '';
      start = ++at;
    }
    const part = this.text.slice(start, at);
    return this.hasEscapes ? unescapeText(part, this.d) : part;
  }

  /** True where field n has one repeat, and nothing but the listed components of it is filled. */
  hasOnly(n: number, components: readonly number[]): boolean {
    const end = this.end(n);
    if (this.firstEnd(n) !== end) return false;
    let start = this.start(n);
    for (let c = 1; start <= end; c++) {
      const next = this.text.indexOf(this.d.component, start);
      const stop = next < 0 || next > end ? end : next;
      if (stop > start && !components.includes(c)) return false;
      start = stop + 1;
    }
    return true;
  }

  /** The repeats of field n, each as its components. */
  parts(n: number): string[][] {
    const raw = this.text.slice(this.start(n), this.end(n));
    const repeats = this.hasRepeats ? raw.split(this.d.repeat) : [raw];
    return repeats.map((repeat) => {
      const parts = repeat.split(this.d.component);
      return this.hasEscapes ? parts.map((part) => unescapeText(part, this.d)) : parts;
    });
  }

  private firstEnd(n: number): number {
    const end = this.end(n);
    if (!this.hasRepeats) return end;
    const at = this.text.indexOf(this.d.repeat, this.start(n));
    return at < 0 || at > end ? end : at;
  }
}

/** Reads one record's text (without its CR) with the delimiters of its message. */
export function viewRecord(text: string, d: Delimiters): Parsed<RecordView> {
  const type = text.charAt(0);
  if (text === '' || !TYPES.includes(type) || (text.length > 1 && text.charAt(1) !== d.field))
    return bad(`"${text.slice(0, 20)}" is not a record of E1394`);
  return good(new RecordView(type as RecordType, text, d));
}
