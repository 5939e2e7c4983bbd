/** The command line of the conformance kit: one meter on one port, a verdict a clause, and an exit code for scripts. */
import { Command, InvalidArgumentError } from 'commander';
import { asFault, Fault } from '../../src/core/fault.ts';
import { LINK_DEFAULTS } from '../../src/wire/transport/link.ts';
import { examine } from './examine.ts';
import { clauseLines, closingLine, document } from './report.ts';
import { TIMING } from './timing.ts';
import { portWire } from './wire.ts';

interface Options {
  readonly baud?: number;
  readonly only?: readonly string[];
  readonly json?: boolean;
}

/** Start, eight data and stop bit. */
const BITS = 10;

function baud(text: string): number {
  const value = Number(text);
  if (!/^\d+$/.test(text) || value < 1200 || value > 115_200)
    throw new InvalidArgumentError('It must be a speed from 1200 to 115200.');
  return value;
}

/** What the clock on the wall shows here, as if it were UTC. */
const wallNow = (): number => Date.now() - new Date().getTimezoneOffset() * 60_000;

/** Gives the exit code: 0 only where nothing fails. */
async function run(port: string, options: Options): Promise<number> {
  const speed = options.baud ?? LINK_DEFAULTS.baud;
  // Bytes over a network have no speed of their own, unless somebody says so of the line behind a device server.
  const hasSpeed = options.baud !== undefined || !port.startsWith('tcp://');
  const examined = await examine(portWire(port, { ...LINK_DEFAULTS, baud: speed }), {
    timing: { ...TIMING, byteMs: hasSpeed ? (BITS * 1000) / speed : 0 },
    wallNow,
    ...(options.only ? { only: options.only } : {}),
    tell: options.json ? () => {} : (judged) => process.stdout.write(`${clauseLines(judged)}\n`),
  });
  if (options.json) process.stdout.write(`${JSON.stringify(document(port, examined))}\n`);
  else process.stdout.write(`\n${closingLine(examined)}\n`);
  return examined.clauses.some(({ verdict }) => verdict.kind === 'fails') ? 1 : 0;
}

const command = new Command('npm run conformance --')
  .description('Holds a meter to its protocol, clause by clause: see protocols/CONFORMANCE.md.')
  .argument('<PORT>', '/dev/ttyUSB0, COM3 or tcp://host:port')
  .option('--baud <N>', 'speed of the line (default: 9600)', baud)
  .option('--only <CLAUSES>', 'only these clauses and chapters, such as L3.4,L5', (text) => text.split(','))
  .option('--json', 'one JSON document instead of lines')
  .exitOverride()
  .action(async (port: string, options: Options) => {
    process.exitCode = await run(port, options);
  });

try {
  await command.parseAsync();
} catch (thrown) {
  // What is wrong with the call has been said by the parser itself.
  const isCall = typeof thrown === 'object' && thrown !== null && 'exitCode' in thrown && !(thrown instanceof Fault);
  if (isCall) process.exitCode = thrown.exitCode === 0 ? 0 : 2;
  else {
    const { message, hint, code, exitCode } = asFault(thrown);
    process.stderr.write(`conformance: ${message}. ${hint} [${code}]\n`);
    process.exitCode = exitCode;
  }
}
