/**
 * Where a passphrase comes from: TALLYDOCK_PASSPHRASE, a file that only its owner may read, or a question on the
 * terminal that shows nothing while it is answered. Never from the command line, where every account could read it.
 */

import { readFileSync, statSync } from 'node:fs';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';

/** Environment variable that holds the passphrase. Empty counts as not given. */
const PASSPHRASE_VARIABLE = 'TALLYDOCK_PASSPHRASE';

/** Fewer characters than this are guessed too soon. */
const SHORTEST = 8;

/**
 * The passphrase of a call: from `file` if one is named, else from the environment, else asked for. `isNew`: it is to
 * seal something, so it must not be short and is asked for twice. Rejects with CALL_WRONG, FILE_MISSING or
 * FILE_UNREADABLE.
 */
export async function passphraseOf(
  file: string | undefined,
  isNew: boolean,
  question = 'Passphrase of the backup: ',
): Promise<string> {
  const given = file === undefined ? process.env[PASSPHRASE_VARIABLE] : readPassphraseFile(file);
  const passphrase = given || (await ask(question));
  if (!isNew) return passphrase;
  if (passphrase.length < SHORTEST)
    throw new Fault(
      'CALL_WRONG',
      `The passphrase is shorter than ${SHORTEST} characters`,
      'Take a longer one: a few words are easy to remember',
    );
  if (!given && (await ask('Once more: ')) !== passphrase)
    throw new Fault('CALL_WRONG', 'The two passphrases are not the same', 'Run the command again');
  return passphrase;
}

/** The first line of a passphrase file. Refuses a file that others may read. */
export function readPassphraseFile(file: string): string {
  try {
    if (process.platform !== 'win32' && (statSync(file).mode & 0o077) !== 0)
      throw new Fault('FILE_UNREADABLE', `Others may read ${file}`, `Run "chmod 600 ${file}", then try again`);
    const [line = ''] = readFileSync(file, 'utf8').split(/\r?\n/);
    if (line === '') throw new Fault('FILE_UNREADABLE', `${file} holds no passphrase`, 'Write it into its first line');
    return line;
  } catch (cause) {
    if (cause instanceof Fault) throw cause;
    const isMissing = systemCode(cause) === 'ENOENT';
    throw isMissing
      ? new Fault('FILE_MISSING', `There is no file ${file}`, 'Check the name and the folder', { cause })
      : new Fault('FILE_UNREADABLE', `${file} cannot be read`, 'Check that it is a file and may be read', { cause });
  }
}

/** Asks on the terminal. Where there is none, says how else to give it. */
function ask(question: string): Promise<string> {
  const { stdin, stderr } = process;
  if (!stdin.isTTY || !stderr.isTTY)
    throw new Fault(
      'CALL_WRONG',
      'A passphrase is needed, and there is no terminal to ask on',
      `Set ${PASSPHRASE_VARIABLE}, or name a file with --passphrase-file`,
    );
  stderr.write(question);
  stdin.setRawMode(true);
  stdin.setEncoding('utf8');
  stdin.resume();
  return new Promise((resolve, reject) => {
    let typed: string[] = [];
    const end = (): void => {
      stdin.off('data', onKeys);
      stdin.setRawMode(false);
      stdin.pause();
      stderr.write('\n');
    };
    const onKeys = (keys: string): void => {
      for (const key of keys) {
        if (key === '\r' || key === '\n') {
          end();
          resolve(typed.join(''));
          return;
        }
        if (key === '\u0003' || key === '\u0004') {
          end();
          reject(new Fault('CALL_WRONG', 'No passphrase was given', 'Run the command again'));
          return;
        }
        if (key === '\u007f' || key === '\b') typed = typed.slice(0, -1);
        else if (key >= ' ') typed.push(key);
      }
    };
    stdin.on('data', onKeys);
  });
}
