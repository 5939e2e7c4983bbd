/** The command `virtual-meter`: a meter that does not exist, on a TCP port or a pseudo-terminal. */
import { Command, InvalidArgumentError, Option } from 'commander';
import { parseMeterTime, type Wall } from '../core/meter-time.ts';
import { withCommonOptions } from './common-options.ts';
import { anyNumber, wholeNumber } from './option-parsers.ts';
import type { VirtualMeterCall } from './virtual-meter-work.ts';

function share(text: string): number {
  const value = anyNumber(text);
  if (value < 0 || value > 1) throw new InvalidArgumentError('It must be a share from 0 to 1, such as 0.001.');
  return value;
}

function date(text: string): Wall {
  const read = parseMeterTime(text);
  if (!read.ok) throw new InvalidArgumentError('It must be a date such as 2000-01-01.');
  return read.value.wall;
}

const EXAMPLES = `
Examples:
  tallydock virtual-meter --tcp 4001                     a meter that lost nothing, at tcp://127.0.0.1:4001
  tallydock virtual-meter --pty --clock-lost             on a serial port that does not exist; its clock is wrong
  tallydock virtual-meter --tcp 4002 --protocol astm     a clinic meter that sends by itself
  tallydock virtual-meter --tcp 4003 --pull-after 2000   the cable is pulled in the middle of the download

Then, in a second window:  tallydock collect tcp://127.0.0.1:4001      (it ends with Ctrl+C)`;

/** Builds the command `virtual-meter`. */
export function virtualMeterCommand(): Command {
  const command = new Command('virtual-meter')
    .description(
      'Be a meter that does not exist: it has a memory full of invented results and answers on a port, so that you can try everything out without a real meter.',
    )
    .addOption(new Option('--protocol <NAME>', 'the language it speaks').choices(['line', 'astm']).default('line'))
    .option('--tcp <PORT>', 'answer on this TCP port of this computer (0: any free one)', wholeNumber(0, 65_535))
    .option('--pty', 'answer on a pseudo-terminal, which looks like a serial port (not on Windows)')
    .option('--id <ID>', 'its serial number', 'SN00042')
    .option('--model <NAME>', 'its model', 'GM-10')
    .option('--memory <N>', 'how many results it can remember', wholeNumber(1, 100_000), 200)
    .addOption(
      new Option('--order <ORDER>', 'how its memory is laid out')
        .choices(['newest', 'oldest', 'ring'])
        .default('newest'),
    )
    .option(
      '--held <N>',
      'tests made so far, about a week apart; more than the memory overwrites the oldest',
      wholeNumber(0, 100_000),
      30,
    )
    .option('--run-numbers', 'it numbers its tests')
    .option('--loss-count', 'it counts how often its clock lost power')
    .addOption(
      new Option('--resolution <STEP>', 'how fine the times of its tests are')
        .choices(['second', 'minute'])
        .default('second'),
    )
    .addOption(
      new Option('--default-date <DATE>', 'what its clock shows after a power loss')
        .argParser(date)
        .default(date('2000-01-01'), '2000-01-01'),
    )
    .option('--zone <IANA>', 'the time zone that its clock was set to (default: the one of this computer)')
    .option('--drift <PPM>', 'how fast its clock gains, in millionths (20 is 1.7 s a day)', anyNumber, 20)
    .option('--clock-lost', 'its batteries ran out some weeks ago and nobody set the clock')
    .option('--clock-off <S>', 'its clock was set wrong by this many seconds (positive: fast)', anyNumber, 0)
    .option('--delete <N>', 'delete this many results, as people do', wholeNumber(0), 0)
    .option('--sleep <N>', 'it must be called this many times before it wakes', wholeNumber(0), 0)
    .option('--slow <MS>', 'it thinks this many milliseconds before each answer', wholeNumber(0), 0)
    .option('--damage <RATE>', 'share of bytes that arrive wrong, both ways (0.0005: one in 2,000)', share, 0)
    .option('--pull-after <N>', 'pull the cable, once, when it has sent this many bytes', wholeNumber(1))
    .option('--baud <N>', 'send no faster than a serial line of this speed (0: as fast as it goes)', wholeNumber(0), 0)
    .addOption(
      new Option('--behave <HOW>', 'well, or as a broken meter would')
        .choices(['well', 'silent', 'endless', 'noisy'])
        .default('well'),
    )
    .option('--seed <N>', 'the same number gives the same meter again', wholeNumber(0), 1)
    .option('--query', 'ASTM: wait to be asked instead of sending by itself')
    .option('--once', 'stop when the first host has gone again (with --tcp)')
    .addHelpText('after', EXAMPLES)
    .action(async (options: VirtualMeterCall) => (await import('./virtual-meter-work.ts')).serveVirtualMeter(options));
  return withCommonOptions(command);
}
