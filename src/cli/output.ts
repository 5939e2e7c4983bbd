/**
 * The two streams. What a person or a program asked for goes to stdout; everything said beside it goes to stderr. A
 * reader that goes away early (`tallydock readings | head`) is not an error: what follows is quietly not written.
 */
import type { Fault } from '../core/fault.ts';
import { printable } from './table.ts';

let readerGone = false;

let areWatched = false;

/** Makes a closed pipe quiet. Called before anything is written; again it does nothing. */
export function watchStreams(): void {
  if (areWatched) return;
  areWatched = true;
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code !== 'EPIPE') throw error;
    readerGone = true;
  });
  // A closed stderr must not stop a download either; there is nobody left to tell.
  process.stderr.on('error', () => {});
}

/** True once nobody reads stdout any more: a long list may stop. */
export const isReaderGone = (): boolean => readerGone;

/** Writes to stdout as it is; resolves when it is handed on, so that a slow reader slows the list down. */
export async function print(text: string): Promise<void> {
  if (readerGone) return;
  // A failed write is heard by the stream's error listener.
  await new Promise<void>((resolve) => process.stdout.write(text, () => resolve()));
}

/** Writes one line of JSON to stdout: a whole document, or one row of NDJSON. */
export const printJson = (value: unknown): Promise<void> => print(`${JSON.stringify(value)}\n`);

/** Says something beside the result, on stderr. */
export function note(text: string): void {
  process.stderr.write(`${text}\n`);
}

const oneLine = (text: string): string => text.replace(/\s*[\r\n]+\s*/g, ' ');
const sentence = (text: string): string => (/[.!?]$/.test(text) ? text : `${text}.`);

/** A fault as one line: what and where, what to do, and its code for the table in README. */
export const faultLine = (fault: Fault): string =>
  printable(oneLine(`tallydock: ${sentence(fault.message)} ${sentence(fault.hint)} [${fault.code}]`));
