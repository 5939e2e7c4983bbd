/** Looking at the clock of a TLP/1 meter: what it showed and when, and whether it ran from one look to the next. */
import { readTime } from '../meter-time.ts';
import { fails, PASSES, type Verdict } from '../verdict.ts';
import type { LineHost } from './host.ts';
import type { HeardLine } from './read-line.ts';

/** What a clock showed, and between which moments it was read. */
export interface Look {
  readonly text: string;
  readonly ms: number;
  /** A clock shows nothing finer. */
  readonly stepMs: number;
  readonly from: number;
  readonly to: number;
}

/** The time in an answer to a question asked at `from`; undefined where there is none, or `-`. */
function lookAt(line: HeardLine | undefined, key: string, from: number): Look | undefined {
  const text = line?.keys.get(key);
  const time = text === undefined ? undefined : readTime(text);
  if (!line || !time || text === undefined) return undefined;
  return { text, ms: time.ms, stepMs: time.hasSeconds ? 1000 : 60_000, from, to: line.at };
}

/** Asks a question that is answered with `CLOCK t=`. */
export async function askClock(
  host: LineHost,
  body: string,
): Promise<{ lines: readonly HeardLine[]; look: Look | undefined }> {
  const from = host.now();
  const lines = await host.ask(body);
  const line = lines.find(({ verb }) => verb === 'CLOCK');
  return { lines, look: lookAt(line, 't', from) };
}

/** Wakes the meter and looks at the clock that METER tells. */
export async function wakeAndLook(host: LineHost): Promise<Look | undefined> {
  const from = host.now();
  return lookAt(await host.wake(), 'clock', from);
}

/** Watches a clock for so long that it must have moved by the finest that it shows. */
export const watch = (host: LineHost, look: Look): Promise<unknown> =>
  host.listen(Math.max(host.timing.tickMs, look.stepMs + 1000));

/** Whether the clock ran from the first look to the second as time did. */
export function ran(first: Look, second: Look): Verdict {
  const step = Math.max(first.stepMs, second.stepMs);
  const gone = second.ms - first.ms;
  const [least, most] = [second.from - first.to - step, second.to - first.from + step];
  return gone >= least && gone <= most
    ? PASSES
    : fails(
        `${first.text} and ${((second.from - first.to) / 1000).toFixed(1)} to ${((second.to - first.from) / 1000).toFixed(1)} s more`,
        second.text,
      );
}
