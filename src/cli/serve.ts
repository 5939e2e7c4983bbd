/** `tallydock serve`: the daemon in the foreground; a service manager runs exactly this. */
import { Command, Option } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { ServeCall } from './serve-work.ts';

const EXAMPLES = `
The docks stand in config.toml in the data folder. For the anticoagulation clinic of Port Alder it could be:
  zone = "Europe/Lisbon"

  [[dock]]
  name = "front desk"
  port = "/dev/ttyUSB0"                  # on Windows: "COM3"

  [[dock]]
  name = "lent meters"
  usb-serial = "PA0042"                  # the adapter with this serial number, wherever it is plugged in

  [[dock]]
  name = "room 2"
  port = "tcp://192.168.7.20:4001"       # a serial device server on the network

Examples:
  tallydock ports                        which ports are there?
  tallydock serve                        watch the docks until Ctrl+C or a service manager's stop
  tallydock status                       in another window: what does it do?
  tallydock serve --stop                 stop the daemon that runs, wherever it was started

A first Ctrl+C stops cleanly: a download in progress is kept as incomplete. A second one stops at once.`;

/** The command. */
export function serveCommand(): Command {
  const command = new Command('serve')
    .description(
      'Watches the docks, reads each meter that is plugged in, and sets its clock. Runs until it is stopped.',
    )
    .option('--stop', 'stop the daemon that runs on this data folder, and wait until it has stopped')
    .addOption(new Option('--now', 'with --stop: at once, without taking leave of the meters').implies({ stop: true }));
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: ServeCall) => (await import('./serve-work.ts')).serve(options));
}
