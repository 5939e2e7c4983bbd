/** The command line of the conformance kit: one meter on one port, a verdict a clause, and an exit code for scripts. */
import { Command, InvalidArgumentError, Option } from 'commander';
import { asFault, Fault } from '../../src/core/fault.ts';
import { LINK_DEFAULTS } from '../../src/wire/transport/link.ts';
import { examine } from './examine.ts';
import { clauseLines, closingLine, document, type ProtocolName } from './report.ts';
import { TIMING } from './timing.ts';
import { portWire } from './wire.ts';

interface Options {
  readonly protocol?: ProtocolName;
  readonly query?: boolean;
  readonly baud?: number;
  readonly wait?: number;
  readonly only?: readonly string[];
  readonly json?: boolean;
}

/** Start, eight data and stop bit. */
const BITS = 10;

/** A whole number in a range, as commander wants its parsers. */
const whole =
  (low: number, high: number) =>
  (text: string): number => {
    const value = Number(text);
    if (!/^\d+$/.test(text) || value < low || value > high)
      throw new InvalidArgumentError(`It must be a whole number from ${low} to ${high}.`);
    return value;
  };

/** What the clock on the wall shows here, as if it were UTC. */
const wallNow = (): number => Date.now() - new Date().getTimezoneOffset() * 60_000;

/** Gives the exit code: 0 only where nothing fails. */
async function run(port: string, options: Options): Promise<number> {
  const speed = options.baud ?? LINK_DEFAULTS.baud;
  // Bytes over a network have no speed of their own, unless somebody says so of the line behind a device server.
  const hasSpeed = options.baud !== undefined || !port.startsWith('tcp://');
  const examined = await examine(portWire(port, { ...LINK_DEFAULTS, baud: speed }), {
    ...(options.protocol ? { protocol: options.protocol } : {}),
    ...(options.only ? { only: options.only } : {}),
    sends: options.query ? 'when asked' : 'by itself',
    timing: {
      ...TIMING,
      byteMs: hasSpeed ? (BITS * 1000) / speed : 0,
      waitMs: options.wait === undefined ? TIMING.waitMs : options.wait * 1000,
    },
    wallNow,
    tell: options.json ? () => {} : (judged) => process.stdout.write(`${clauseLines(judged)}\n`),
    notice: (text) => process.stderr.write(`${text}\n`),
  });
  if (options.json) process.stdout.write(`${JSON.stringify(document(port, examined))}\n`);
  else process.stdout.write(`\n${closingLine(examined)}\n`);
  return examined.clauses.some(({ verdict }) => verdict.kind === 'fails') ? 1 : 0;
}

const command = new Command('npm run conformance --')
  .description('Holds a meter to its protocol, clause by clause: see protocols/CONFORMANCE.md.')
  .argument('<PORT>', '/dev/ttyUSB0, COM3 or tcp://host:port')
  .addOption(new Option('--protocol <NAME>', 'what it claims to speak (default: it is tried)').choices(['tlp', 'astm']))
  .option('--query', 'ASTM: the meter sends when it is asked, not by itself')
  .option('--baud <N>', 'speed of the line (default: 9600)', whole(1200, 115_200))
  .option('--wait <S>', 'ASTM: how long to wait for a meter that sends by itself (default: 60)', whole(1, 3600))
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
