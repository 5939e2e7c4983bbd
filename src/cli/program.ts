/**
 * Finds the command that was called, loads it, runs it, and turns whatever stops it into one line on stderr and the
 * exit code of the contract: 0 done, 1 the work could not be done, 2 the call or a file given is wrong, 3 done in part.
 */
import { Command, CommanderError } from 'commander';
import { asFault, Fault } from '../core/fault.ts';
import { COMMANDS } from './commands.ts';
import { faultLine, note, watchStreams } from './output.ts';

const EPILOGUE = `
Help for one command:   tallydock collect --help
Examples:
  tallydock ports                        which meters are plugged in?
  tallydock collect /dev/ttyUSB0         read the meter on this port (on Windows: COM3)
  tallydock readings --since 2026-03-01  what was tested since the first of March?
  tallydock export csv --out march.csv   a table for the spreadsheet

Not a medical device, and never a dose: a result is confirmed and acted on by licensed staff under local policy.`;

/** Runs one call. Resolves with the exit code; never rejects. */
export async function run(args: readonly string[]): Promise<number> {
  watchStreams();
  try {
    const program = await buildProgram(args);
    await program.parseAsync(args, { from: 'user' });
    // A command that did its work only in part has set the exit code itself.
    return Number(process.exitCode ?? 0);
  } catch (thrown) {
    if (thrown instanceof CommanderError) {
      if (thrown.exitCode === 0) return 0; // help was asked for and given
      note(faultLine(callFault(thrown, args)));
      return 2;
    }
    const fault = asFault(thrown);
    note(faultLine(fault));
    if (fault.code === 'INTERNAL' && process.env['TALLYDOCK_TRACE'] && thrown instanceof Error)
      note(thrown.stack ?? '');
    return fault.exitCode;
  }
}

/** The program with the called command in full and the others by name only. */
async function buildProgram(args: readonly string[]): Promise<Command> {
  const program = new Command('tallydock')
    .description(
      'Takes the results out of handheld point-of-care meters: once, at the right time, for the right person.',
    )
    .usage('COMMAND [options]')
    .option('-V, --version', 'print the version and leave')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addHelpText('after', EPILOGUE);
  const called = args[0] === 'help' ? args[1] : args[0];
  for (const [name, entry] of Object.entries(COMMANDS)) {
    program.addCommand(name === called ? await entry.load() : new Command(name).description(entry.summary));
  }
  if (args.length === 0 || args[0] === 'help') {
    const wanted = program.commands.find((command) => command.name() === called);
    if (called !== undefined && !wanted) throw unknownCommand(called);
    const shown = wanted ?? program;
    program.action(() => shown.outputHelp()).allowExcessArguments();
  } else if (called !== undefined && !called.startsWith('-') && !Object.hasOwn(COMMANDS, called)) {
    throw unknownCommand(called);
  }
  return silence(program);
}

const unknownCommand = (name: string): Fault =>
  new Fault('CALL_WRONG', `There is no command "${name}"`, 'Run "tallydock --help" for the list of commands');

/** Errors of the call are thrown instead of printed, in every command below. */
function silence(command: Command): Command {
  command.exitOverride().configureOutput({ writeErr: () => {} });
  for (const child of command.commands) silence(child);
  return command;
}

/** Commander's message, which names the option or argument, as a fault of the call. */
function callFault(error: CommanderError, args: readonly string[]): Fault {
  const message = error.message.replace(/^error: /, '').replace(/\n/g, ' ');
  const text =
    error.code === 'commander.help'
      ? `"tallydock ${args.join(' ')}" is not complete`
      : message.charAt(0).toUpperCase() + message.slice(1);
  return new Fault('CALL_WRONG', text, 'Add --help to the command to see its options');
}
