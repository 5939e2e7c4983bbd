/**
 * L2: the clock is read and set. Section "Host to meter", CLOCK and SET. Every check that sets the clock puts it back:
 * to what it showed before plus the time gone since; to this computer's time where it was not set.
 */
import { writeTime } from '../meter-time.ts';
import { type Clause, fails, notApplicable, PASSES, type Verdict } from '../verdict.ts';
import { askClock, type Look, ran, wakeAndLook, watch } from './clock-look.ts';
import type { LineHost } from './host.ts';
import { shownAll } from './read-line.ts';

const NOT_SET = notApplicable('the clock is not set');
const REFUSED = notApplicable('the meter answers SET with ERR: its clock cannot be set');

/** Sets the clock, looks at what is done with it, and puts it back. */
async function whileSet(host: LineHost, to: string, then: (readBack: Look) => Promise<Verdict>): Promise<Verdict> {
  await host.wake();
  const before = await askClock(host, 'CLOCK');
  const { lines, look } = await askClock(host, `SET t=${to}`);
  if (lines.some(({ verb }) => verb === 'ERR')) return REFUSED;
  const verdict = look ? await then(look) : fails(`CLOCK t=${to}, or up to 2 s later`, shownAll(lines));
  await putBack(host, before.look);
  return verdict;
}

/** Puts the clock back to what it showed, plus the time gone since. */
async function putBack(host: LineHost, before: Look | undefined): Promise<void> {
  const ms = before ? before.ms + Math.round((host.now() - before.to) / 1000) * 1000 : host.wallNow();
  await host.ask(`SET t=${writeTime(ms)}`);
}

export const CLOCK: readonly Clause<LineHost>[] = [
  {
    id: 'L2.1',
    section: 'Host to meter: CLOCK',
    promise: 'CLOCK is answered with one CLOCK t=, a time that exists, or -.',
    async check(host) {
      await host.wake();
      const { lines, look } = await askClock(host, 'CLOCK');
      const [line] = lines;
      const isRight =
        line?.verb === 'CLOCK' && lines.length === 1 && (look !== undefined || line.keys.get('t') === '-');
      return isRight ? PASSES : fails('CLOCK t= a time that exists, or -', shownAll(lines));
    },
  },
  {
    id: 'L2.2',
    section: 'Meter to host: METER',
    promise: 'The clock in METER is that of the moment of answering.',
    async check(host) {
      const first = await wakeAndLook(host);
      if (!first) return NOT_SET;
      await watch(host, first);
      const again = await wakeAndLook(host);
      return again ? ran(first, again) : fails('a clock in METER', 'none');
    },
  },
  {
    id: 'L2.3',
    section: 'Host to meter: CLOCK',
    promise: 'The clock runs, and CLOCK is that of the moment of answering.',
    async check(host) {
      await host.wake();
      const first = await askClock(host, 'CLOCK');
      if (!first.look) return NOT_SET;
      await watch(host, first.look);
      const second = await askClock(host, 'CLOCK');
      return second.look ? ran(first.look, second.look) : fails('CLOCK t=', shownAll(second.lines));
    },
  },
  {
    id: 'L2.4',
    section: 'Host to meter: SET',
    promise: 'SET is answered with CLOCK t=, the time just set, read back.',
    check: (host) =>
      whileSet(host, '2026-03-02T10:15:00', async (readBack) => {
        const late = readBack.ms - Date.UTC(2026, 2, 2, 10, 15);
        return late >= 0 && late <= host.timing.answerMs + 1000
          ? PASSES
          : fails('CLOCK t=2026-03-02T10:15:00, or up to 2 s later', `CLOCK t=${readBack.text}`);
      }),
  },
  {
    id: 'L2.5',
    section: 'Host to meter: SET',
    promise: 'The clock goes on from what SET read back, over a leap day too.',
    check: (host) =>
      whileSet(host, '2028-02-29T23:59:58', async (readBack) => {
        await watch(host, readBack);
        const { lines, look } = await askClock(host, 'CLOCK');
        return look ? ran(readBack, look) : fails('CLOCK t=', shownAll(lines));
      }),
  },
  {
    id: 'L2.6',
    section: 'Line: time',
    promise: 'After SET with a day that does not exist, the clock still shows a time that exists.',
    async check(host) {
      await host.wake();
      const before = await askClock(host, 'CLOCK');
      const answer = await host.ask('SET t=2027-02-29T10:15:00');
      const { lines, look } = await askClock(host, 'CLOCK');
      const isRight = look !== undefined || lines[0]?.keys.get('t') === '-';
      // Where it was refused, the clock was not touched.
      if (!answer.some(({ verb }) => verb === 'ERR')) await putBack(host, before.look);
      return isRight ? PASSES : fails('CLOCK t= a time that exists, or -', shownAll(lines));
    },
  },
];
