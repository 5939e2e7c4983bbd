/** The command `virtual-meter`: a meter that does not exist, on a TCP port or a pseudo-terminal. */
import { Command, InvalidArgumentError, Option } from 'commander';
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import { parseMeterTime, type Wall } from '../core/meter-time.ts';
import { zoneOf } from '../core/zone.ts';
import { type Chance, chanceFrom } from '../virtual/chance.ts';
import { createCourse } from '../virtual/course.ts';
import { NO_FAULTS, type PortFaults } from '../virtual/faults.ts';
import { shownClock, type VirtualMeter } from '../virtual/meter.ts';
import { meterWithPast, weeklyMoments } from '../virtual/past.ts';
import { type VirtualPort, virtualPort } from '../virtual/port.ts';
import { type Served, servePty, serveTcp } from '../virtual/serve.ts';
import { ASTM_HABITS, astmSpeaker } from '../virtual/speak-astm.ts';
import { LINE_HABITS, lineSpeaker } from '../virtual/speak-line.ts';
import { type CommonOptions, withCommonOptions } from './common-options.ts';
import { note, print, printJson } from './output.ts';

interface Options extends CommonOptions {
  readonly protocol: 'line' | 'astm';
  readonly tcp?: number;
  readonly pty?: boolean;
  readonly id: string;
  readonly model: string;
  readonly memory: number;
  readonly order: 'newest' | 'oldest' | 'ring';
  readonly held: number;
  readonly runNumbers?: boolean;
  readonly lossCount?: boolean;
  readonly resolution: 'second' | 'minute';
  readonly defaultDate: Wall;
  readonly zone?: string;
  readonly drift: number;
  readonly clockLost?: boolean;
  readonly clockOff: number;
  readonly delete: number;
  readonly sleep: number;
  readonly slow: number;
  readonly damage: number;
  readonly pullAfter?: number;
  readonly baud: number;
  readonly behave: PortFaults['behaves'];
  readonly seed: number;
  readonly query?: boolean;
  readonly once?: boolean;
}

/** A whole number of at least `low`, as commander wants its parsers. */
const whole =
  (low: number, high = Number.MAX_SAFE_INTEGER) =>
  (text: string): number => {
    const value = Number(text);
    if (!/^-?\d+$/.test(text) || value < low || value > high)
      throw new InvalidArgumentError(
        `It must be a whole number from ${low}${high < Number.MAX_SAFE_INTEGER ? ` to ${high}` : ''}.`,
      );
    return value;
  };

function number(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value)) throw new InvalidArgumentError('It must be a number.');
  return value;
}

function share(text: string): number {
  const value = number(text);
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
    .option('--tcp <PORT>', 'answer on this TCP port of this computer (0: any free one)', whole(0, 65_535))
    .option('--pty', 'answer on a pseudo-terminal, which looks like a serial port (not on Windows)')
    .option('--id <ID>', 'its serial number', 'SN00042')
    .option('--model <NAME>', 'its model', 'GM-10')
    .option('--memory <N>', 'how many results it can remember', whole(1, 100_000), 200)
    .addOption(
      new Option('--order <ORDER>', 'how its memory is laid out')
        .choices(['newest', 'oldest', 'ring'])
        .default('newest'),
    )
    .option(
      '--held <N>',
      'tests made so far, about a week apart; more than the memory overwrites the oldest',
      whole(0, 100_000),
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
    .option('--drift <PPM>', 'how fast its clock gains, in millionths (20 is 1.7 s a day)', number, 20)
    .option('--clock-lost', 'its batteries ran out some weeks ago and nobody set the clock')
    .option('--clock-off <S>', 'its clock was set wrong by this many seconds (positive: fast)', number, 0)
    .option('--delete <N>', 'delete this many results, as people do', whole(0), 0)
    .option('--sleep <N>', 'it must be called this many times before it wakes', whole(0), 0)
    .option('--slow <MS>', 'it thinks this many milliseconds before each answer', whole(0), 0)
    .option('--damage <RATE>', 'share of bytes that arrive wrong, both ways (0.0005: one in 2,000)', share, 0)
    .option('--pull-after <N>', 'pull the cable, once, when it has sent this many bytes', whole(1))
    .option('--baud <N>', 'send no faster than a serial line of this speed (0: as fast as it goes)', whole(0), 0)
    .addOption(
      new Option('--behave <HOW>', 'well, or as a broken meter would')
        .choices(['well', 'silent', 'endless', 'noisy'])
        .default('well'),
    )
    .option('--seed <N>', 'the same number gives the same meter again', whole(0), 1)
    .option('--query', 'ASTM: wait to be asked instead of sending by itself')
    .option('--once', 'stop when the first host has gone again (with --tcp)')
    .addHelpText('after', EXAMPLES)
    .action((options: Options) => serveUntilStopped(options));
  return withCommonOptions(command);
}

async function serveUntilStopped(options: Options): Promise<void> {
  if ((options.tcp === undefined) === !options.pty)
    throw new Fault(
      'CALL_WRONG',
      'A virtual meter needs --tcp PORT or --pty, one of the two',
      'For example: --tcp 4001',
    );
  if (options.once && options.pty)
    throw new Fault(
      'CALL_WRONG',
      '--once works with --tcp only',
      'A pseudo-terminal cannot tell when a host has gone; end it with Ctrl+C',
    );
  if (options.protocol === 'astm' && options.order === 'ring')
    throw new Fault('CALL_WRONG', '--order ring cannot be told over ASTM', 'Use --order newest or --order oldest');
  const chance = chanceFrom(options.seed);
  const port = portOf(options, meterOf(options, chance), chance);
  const isStopped = stopped();
  const served = options.tcp === undefined ? await servePty(port) : await serveTcp(port, options.tcp);
  try {
    await announce(options, served);
    await Promise.race([isStopped, ...(options.once ? [served.firstGone] : [])]);
  } finally {
    await served.close();
  }
}

function meterOf(options: Options, chance: Chance): VirtualMeter {
  const people = options.protocol === 'astm' ? 12 : 1;
  const course = createCourse(chance, { people, controls: 0.05, errors: 0.03, tellsExpiry: false });
  const zone = zoneOf(options.zone ?? Intl.DateTimeFormat().resolvedOptions().timeZone);
  const moments = weeklyMoments(chance, options.held, now(), zone);
  return meterWithPast(
    {
      id: options.id,
      model: options.model,
      capacity: options.memory,
      order: options.order,
      stampResolutionMs: options.resolution === 'minute' ? 60_000 : 1000,
      tellsRunNumbers: options.runNumbers ?? false,
      tellsLosses: options.lossCount ?? false,
      defaultStamp: options.defaultDate,
      driftPpm: options.drift,
      clockOffMs: options.clockOff * 1000,
      clockLost: options.clockLost ?? false,
      deletions: options.delete,
    },
    moments,
    zone,
    now(),
    chance,
    course,
  );
}

function portOf(options: Options, meter: VirtualMeter, chance: Chance): VirtualPort {
  const faults: PortFaults = {
    ...NO_FAULTS,
    baud: options.baud,
    damageRate: options.damage,
    behaves: options.behave,
    ...(options.pullAfter === undefined ? {} : { pullAfter: options.pullAfter }),
  };
  if (options.protocol === 'line') {
    const habits = { ...LINE_HABITS, sleepsThrough: options.sleep, answersAfterMs: options.slow };
    return virtualPort(lineSpeaker(habits), meter, faults, chance, now);
  }
  // Nobody can tell when a pseudo-terminal is opened, so there a meter that sends by itself calls every few seconds.
  const calls = options.pty && !options.query ? { answerToCallMs: 2000, callsAgainMs: 30_000 } : {};
  const habits = { ...ASTM_HABITS, waitsToBeAsked: options.query ?? false, answersAfterMs: options.slow, ...calls };
  return virtualPort(astmSpeaker(habits), meter, faults, chance, now);
}

/** True time with fractions of a millisecond, which a paced line needs. */
const now = () => instant(performance.timeOrigin + performance.now());

async function announce(options: Options, served: Served): Promise<void> {
  const meter = served.meter();
  const { held, capacity, order } = meter.memory;
  const stamps = held.map(({ test }) => test.stamp);
  if (options.json) {
    await printJson({ where: served.where, id: meter.id, model: meter.model, held: held.length, capacity, order });
    return;
  }
  await print(`${served.where}\n`);
  if (options.quiet) return;
  note(`Virtual meter ${meter.id} (${meter.model}) speaks ${options.protocol === 'line' ? 'TLP/1' : 'ASTM'} there.`);
  note(
    `It holds ${held.length} of ${capacity} results${stamps.length > 0 ? `, ${stamps[0]} to ${stamps.at(-1)} by its own clock` : ''}.`,
  );
  note(`Its clock shows ${shownClock(meter, now())}. Seed ${options.seed}. Stop it with Ctrl+C.`);
}

/** Resolves when somebody wants the program to end. */
function stopped(): Promise<void> {
  return new Promise((resolve) => {
    process.once('SIGINT', () => resolve());
    process.once('SIGTERM', () => resolve());
  });
}
