/**
 * Is the PC's own clock kept right by a time service? A PC with a wrong clock poisons every anchor. Asks the tools that
 * the platform brings along and reads their answers; where nothing can be learned that is said, never that all is well.
 * The readers are pure. The answers are those of timedatectl(1) "show", chronyc(1) "-c tracking", w32tm "/query /status"
 * and macOS's sntp(1); examples, with where they come from, stand in the tests.
 */
import { execFile } from 'node:child_process';

/** What is known of the PC's clock. `offByS`: how far it is off either way, seconds. */
export type PcClock =
  | { readonly kind: 'kept'; readonly by: string; readonly offByS?: number }
  | { readonly kind: 'not kept'; readonly why: string }
  | { readonly kind: 'not known'; readonly why: string };

/** More than this is not right: IHE Consistent Time asks for a median error below 1 s. */
const RIGHT_WITHIN_S = 1;

const unknown = (why: string): PcClock => ({ kind: 'not known', why });
const notKept = (why: string): PcClock => ({ kind: 'not kept', why });
const kept = (by: string, offsetS?: number): PcClock => {
  if (offsetS === undefined) return { kind: 'kept', by };
  const offByS = Math.abs(offsetS);
  return offByS > RIGHT_WITHIN_S
    ? notKept(`${by} says that it is ${offByS.toFixed(1)} s off`)
    : { kind: 'kept', by, offByS };
};

/** Reads `timedatectl show`. */
export function readTimedatectl(answer: string): PcClock {
  const facts = new Map(
    answer.split(/\r?\n/).flatMap((line): [string, string][] => {
      const at = line.indexOf('=');
      return at < 0 ? [] : [[line.slice(0, at).trim(), line.slice(at + 1).trim()]];
    }),
  );
  switch (facts.get('NTPSynchronized')) {
    case 'yes':
      return kept('the time service of this system');
    case 'no':
      return notKept(
        facts.get('NTP') === 'no'
          ? 'the time service is switched off'
          : 'the time service has not reached a time server yet',
      );
    default:
      return unknown('timedatectl does not say');
  }
}

/** Reads `chronyc -c tracking`: fields separated by commas. */
export function readChrony(answer: string): PcClock {
  const fields = answer.trim().split(',');
  // Reference, its name, stratum, reference time, how far the clock is off, eight others, leap status.
  const off = Number(fields[4] || Number.NaN);
  const leap = fields[13];
  if (fields.length < 14 || !Number.isFinite(off) || leap === undefined) return unknown('chrony does not say');
  if (leap === 'Not synchronised') return notKept('chrony has not reached a time server');
  return kept('chrony', off);
}

/**
 * Reads `w32tm /query /status`, whose labels are in the language of the system: the first line gives the leap
 * indicator (3 = not synchronised), the second the stratum (0 = no source), and the reference 4C4F434C ("LOCL") is the
 * PC's own crystal.
 */
export function readW32tm(answer: string): PcClock {
  const [leap, stratum] = answer
    .trim()
    .split(/\r?\n/, 2)
    .map((line) => /^[^:]+:\s*(\d+)\s*\(/.exec(line)?.[1]);
  if (leap === undefined || stratum === undefined) return unknown('the Windows time service does not say');
  if (leap === '3' || stratum === '0') return notKept('the Windows time service has not reached a time server');
  if (/0x4C4F434C/i.test(answer)) return notKept('the Windows time service only follows the clock of this PC');
  return kept('the Windows time service');
}

/** Reads the line of macOS's `sntp SERVER`: the correction that the clock would need, with its bound. */
export function readSntp(answer: string): PcClock {
  const found = /(?:^|\s)([+-]\d+\.\d+)\s+\+\/-\s+(\d+\.\d+)\s/m.exec(answer);
  if (!found) return unknown('no time server answered');
  return kept('a time server', Number(found[1]));
}

/** Runs a program and gives what it printed; undefined where it is not there, fails or takes too long. */
export type RunTool = (program: string, args: readonly string[]) => Promise<string | undefined>;

const TOOL_MS = 4000;

/** Runs a tool of the system, in plain English where it knows it. */
export const runTool: RunTool = (program, args) =>
  new Promise((resolve) => {
    const options = { timeout: TOOL_MS, windowsHide: true, env: { ...process.env, LC_ALL: 'C' } };
    execFile(program, args, options, (error, stdout) => resolve(error ? undefined : stdout));
  });

/** Asks the platform's tools about the PC's clock. Never rejects. */
export async function askTimeService(platform: NodeJS.Platform, run: RunTool = runTool): Promise<PcClock> {
  const ask = async (program: string, args: readonly string[], read: (answer: string) => PcClock): Promise<PcClock> => {
    const answer = await run(program, args);
    return answer === undefined ? unknown(`${program} gives no answer here`) : read(answer);
  };
  if (platform === 'win32') return ask('w32tm', ['/query', '/status'], readW32tm);
  if (platform === 'darwin') return ask('sntp', ['time.apple.com'], readSntp);
  const chrony = await ask('chronyc', ['-c', 'tracking'], readChrony);
  // Chrony knows how far it is off; the system only whether something keeps the clock.
  if (chrony.kind !== 'not known') return chrony;
  const system = await ask('timedatectl', ['show'], readTimedatectl);
  return system.kind === 'not known' ? unknown('neither chrony nor timedatectl gives an answer here') : system;
}
