/**
 * Makes a backup in a process of its own. Proving the copy of a large store takes seconds, and no meter could be
 * answered meanwhile in this one; and its memory goes with it.
 */
import { spawn } from 'node:child_process';
import { FAULT_CODES, Fault, type FaultCode } from '../../core/fault.ts';

/** What is to be backed up, and where to. */
export interface BackupApart {
  /** How this program is started: Node's own options and the program's file. */
  readonly program: readonly string[];
  readonly dataDir: string;
  readonly folder: string;
  readonly keep: number;
  /** Seal it under the passphrase in this file. */
  readonly passphraseFile?: string;
}

/** Runs `tallydock backup --keep N FOLDER`. Rejects with the fault that it told. `signal` ends it; no file is left then. */
export function backUpApart(order: BackupApart, signal?: AbortSignal): Promise<void> {
  const { program, dataDir, folder, keep, passphraseFile } = order;
  const seal = passphraseFile === undefined ? [] : ['--encrypt', '--passphrase-file', passphraseFile];
  const args = [...program, 'backup', '--keep', String(keep), ...seal, '--quiet', '--data', dataDir, '--', folder];
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, args, {
      stdio: ['ignore', 'ignore', 'pipe'],
      windowsHide: true,
      ...(signal ? { signal } : {}),
    });
    let said = '';
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      said = (said + text).slice(-4000);
    });
    child.once('error', (cause) => reject(new Fault('INTERNAL', 'The backup could not be started', HINT, { cause })));
    child.once('close', (code) => (code === 0 ? resolve() : reject(faultOf(said))));
  });
}

const HINT = 'Run "tallydock backup" by hand to see what is wrong.';

const isCode = (text: string | undefined): text is FaultCode => FAULT_CODES.some((code) => code === text);

/** The fault in the last line that another process of ours wrote to stderr. */
export function faultOf(said: string): Fault {
  const [, message, code] = /^tallydock: (.*) \[([A-Z_]+)\]$/.exec(said.trim().split('\n').at(-1) ?? '') ?? [];
  if (message === undefined || !isCode(code)) return new Fault('INTERNAL', 'The backup failed without a word', HINT);
  return new Fault(code, message.replace(/[.]$/, ''), HINT);
}
