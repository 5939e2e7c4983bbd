/** Is the virtual meter that a call asks for, until somebody stops it. */
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import type { Wall } from '../core/meter-time.ts';
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
import type { CommonOptions } from './common-options.ts';
import { note, print, printJson } from './output.ts';

/** A call of the command. */
export interface VirtualMeterCall extends CommonOptions {
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

/** Is the meter until it is stopped. Throws CALL_WRONG for options that do not go together. */
export async function serveVirtualMeter(options: VirtualMeterCall): Promise<void> {
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

function meterOf(options: VirtualMeterCall, chance: Chance): VirtualMeter {
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

function portOf(options: VirtualMeterCall, meter: VirtualMeter, chance: Chance): VirtualPort {
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

async function announce(options: VirtualMeterCall, served: Served): Promise<void> {
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
