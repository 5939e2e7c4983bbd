/** `tallydock collect [PORT…]`: one download from each port, all at once. */
import { Command, Option } from 'commander';
import type { CollectCall } from './collect-work.ts';
import { withCommonOptions } from './common-options.ts';
import { wholeNumber } from './option-parsers.ts';
import { DEFAULT_PROFILE } from './port-choice.ts';

const EXAMPLES = `
Examples, from the anticoagulation clinic of Port Alder:
  tallydock collect                            the one meter that is plugged in and recognised
  tallydock collect /dev/ttyUSB0               the meter on this port (on Windows: COM3)
  tallydock collect COM3 COM4 COM5             three meters at once
  tallydock collect tcp://192.168.7.20:4001    a meter behind a serial device server
  tallydock collect COM3 --profile astm-generic-newest --wait 120
                                               a meter that sends by itself: start the transfer on it within 2 minutes

Nothing on the meter is ever deleted. If the cable is pulled, what was read is kept: run the same command again.`;

/** The command. */
export function collectCommand(): Command {
  const command = new Command('collect')
    .description(
      'Reads the meter on each port, all at once, and keeps every test that is new. Nothing on a meter is deleted.',
    )
    .argument('[PORT...]', 'serial ports or tcp://host:port; without one, the one port that a profile recognises')
    .option(
      '--profile <NAME>',
      `what kind of meter it is (default: what the port is recognised as, else ${DEFAULT_PROFILE})`,
    )
    .option(
      '--zone <IANA>',
      'the time zone whose local time the meter should show (default: config.toml, else this computer)',
    )
    .option('--baud <N>', "the speed of the serial line, if it is not the profile's", wholeNumber(1200, 115_200))
    .addOption(
      new Option(
        '--set-clock <WHEN>',
        "set the meter's clock once everything is stored; when-off (the default): if off by more than a minute",
      ).choices(['never', 'when-off', 'always']),
    )
    .option('--wait <S>', 'how many seconds to wait for a meter that sends by itself', wholeNumber(1, 86_400));
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (ports: string[], options: CollectCall) =>
      (await import('./collect-work.ts')).collect(ports, options),
    );
}
