/**
 * Gathers the reports in a process of their own, with their own look into the store: over the meters and the people of
 * a large house one takes seconds, in which a daemon that gathered it itself would hear no meter. The process begins
 * with the first report and ends when none was asked for a while, so that it costs nothing where nobody looks.
 */
import { type ChildProcess, fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { Fault } from '../core/fault.ts';
import type { ReportAnswer, ReportQuestion } from './report-child.ts';
import type { Reports } from './reports.ts';

/** So long after the last report the process ends. */
const IDLE_MS = 60_000;

/** The program of the process, beside this one when both are built. */
const CHILD = fileURLToPath(new URL('./report-child.js', import.meta.url));

interface Waiting {
  resolve(report: never): void;
  reject(fault: Fault): void;
}

/** The reports of the store in a data folder. `child` and `idleMs` are for tests. */
export function reportsApart(dataDir: string, child: string = CHILD, idleMs: number = IDLE_MS): Reports {
  const waiting = new Map<number, Waiting>();
  let asked = 0;
  let running: ChildProcess | undefined;
  let idle: NodeJS.Timeout | undefined;

  const rest = (): void => {
    running?.unref();
    running?.channel?.unref();
    idle = setTimeout(() => end(), idleMs).unref();
  };
  const end = (): void => {
    clearTimeout(idle);
    if (running?.connected) running.disconnect();
    running = undefined;
    for (const { reject } of waiting.values()) reject(brokenOff());
    waiting.clear();
  };
  const start = (): ChildProcess => {
    const made = fork(child, [dataDir], {
      stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
      serialization: 'advanced', // what is Infinity stays so
      execArgv: [],
    });
    const broken = (): void => {
      if (running === made) end();
    };
    made.once('error', broken);
    made.once('exit', broken);
    made.on('message', (answer: ReportAnswer) => {
      const asker = waiting.get(answer.no);
      waiting.delete(answer.no);
      if (waiting.size === 0) rest();
      if ('report' in answer) asker?.resolve(answer.report as never);
      else asker?.reject(new Fault(answer.fault.code, answer.fault.message, answer.fault.hint));
    });
    return made;
  };
  return {
    gather: (name, ask) =>
      new Promise((resolve, reject) => {
        clearTimeout(idle);
        running ??= start();
        running.ref();
        running.channel?.ref();
        const no = ++asked;
        waiting.set(no, { resolve, reject });
        running.send({ no, name, ask } satisfies ReportQuestion);
      }),
    close: end,
  };
}

const brokenOff = (): Fault =>
  new Fault('INTERNAL', 'The report broke off', 'Ask for it again. If that fails too, please report this.');
