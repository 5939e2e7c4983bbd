/** `tallydock --version` and `--help` as whole processes against the start of Node itself, in turns. */
import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { median, report } from './lib/report.ts';

const ROUNDS = 25;
/** The copy of the program that was built with this measurement. */
const program = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

function milliseconds(args: readonly string[]): number {
  const start = process.hrtime.bigint();
  const done = spawnSync(process.execPath, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  if (done.status !== 0) throw new Error(`node ${args.join(' ')} ended with ${done.status}`);
  return Number(process.hrtime.bigint() - start) / 1e6;
}

const calls = { node: ['-e', '0'], version: [program, '--version'], help: [program, 'collect', '--help'] };
const times: Record<keyof typeof calls, number[]> = { node: [], version: [], help: [] };
for (let i = 0; i < ROUNDS; i++) {
  times.node.push(milliseconds(calls.node));
  times.version.push(milliseconds(calls.version));
  times.help.push(milliseconds(calls.help));
}

const against = 'node -e 0';
const baseline = median(times.node);
const aim = { kind: 'at-most', ratio: 1.5 } as const;
report({ what: 'tallydock --version', against, baseline, figure: median(times.version), unit: 'ms', aim });
report({ what: 'tallydock collect --help', against, baseline, figure: median(times.help), unit: 'ms', aim });
