/** L7: the meter is let go and wakes again. Section "Host to meter", BYE. */
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import { askClock, ran, watch } from './clock-look.ts';
import type { LineHost } from './host.ts';
import { shownAll } from './read-line.ts';

const section = 'Host to meter: BYE';

export const SLEEP: readonly Clause<LineHost>[] = [
  {
    id: 'L7.1',
    section,
    promise: 'BYE is answered with BYE.',
    async check(host) {
      await host.wake();
      const lines = await host.ask('BYE');
      return lines.length === 1 && lines[0]?.verb === 'BYE' ? PASSES : fails('BYE', shownAll(lines));
    },
  },
  {
    id: 'L7.2',
    section,
    promise: 'After BYE the meter wakes within 5 HELLO, and holds what it held.',
    async check(host) {
      const before = await host.wake();
      await host.ask('BYE');
      await host.listen(host.timing.hushMs);
      const after = await host.wake();
      const changed = ['id', 'model', 'held'].find((key) => before.keys.get(key) !== after.keys.get(key));
      return changed === undefined
        ? PASSES
        : fails(`${changed}=${before.keys.get(changed)} as before`, `${changed}=${after.keys.get(changed)}`);
    },
  },
  {
    id: 'L7.3',
    section: 'Link: half duplex',
    promise: 'After BYE the meter says nothing by itself.',
    async check(host) {
      await host.wake();
      await host.ask('BYE');
      const lines = await host.listen(host.timing.silenceMs);
      return lines.length === 0 ? PASSES : fails('silence', shownAll(lines));
    },
  },
  {
    id: 'L7.4',
    section,
    promise: 'The clock goes on while the meter sleeps.',
    async check(host) {
      await host.wake();
      const before = await askClock(host, 'CLOCK');
      if (!before.look) return notApplicable('the clock is not set');
      await host.ask('BYE');
      await watch(host, before.look);
      await host.wake();
      const after = await askClock(host, 'CLOCK');
      return after.look ? ran(before.look, after.look) : fails('CLOCK t=', shownAll(after.lines));
    },
  },
];
