/** Keeps what a link tells, for tests that wait for it. */
import type { Fault } from '../../../src/core/fault.ts';
import type { LinkEvents } from '../../../src/wire/transport/link.ts';

/** Events of a link, kept; `until` resolves once its condition holds. */
export function listener() {
  let text = '';
  const closings: (Fault | undefined)[] = [];
  const waits: (() => void)[] = [];
  const ring = (): void => {
    for (const wait of waits.splice(0)) wait();
  };
  const events: LinkEvents = {
    data(chunk) {
      text += Buffer.from(chunk).toString('latin1');
      ring();
    },
    closed(fault) {
      closings.push(fault);
      ring();
    },
  };
  const until = async (isDone: () => boolean): Promise<void> => {
    while (!isDone()) await new Promise<void>((resolve) => waits.push(resolve));
  };
  return { events, closings, text: () => text, until };
}
