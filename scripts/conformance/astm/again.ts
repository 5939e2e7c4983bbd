/** A5: the memory is told again, and the clock goes on. Two whole transfers are compared. */
import { readCompactTime } from '../meter-time.ts';
import { type Clause, fails, notApplicable, PASSES } from '../verdict.ts';
import type { AstmHost, Transfer } from './host.ts';
import { messageOf } from './message.ts';
import { shown } from './read-frame.ts';

/** A header is stamped no earlier than this before ENQ. */
const BEFORE_ENQ_MS = 5000;

/** Everything but header and terminator. */
const told = (transfer: Transfer): string[] =>
  messageOf(transfer)
    .records.filter(({ type }) => type !== 'H' && type !== 'L')
    .map(({ text }) => text);

/** What the header's clock showed, and between which moments it was stamped; undefined where it shows none. */
function stampOf(transfer: Transfer) {
  const text = messageOf(transfer).records[0]?.field(14) ?? '';
  const time = readCompactTime(text);
  const to = transfer.sendings[0]?.heard.at;
  if (!time || to === undefined) return undefined;
  const stepMs = text.length === 8 ? 86_400_000 : time.hasSeconds ? 1000 : 60_000;
  return { text, ms: time.ms, stepMs, from: transfer.enq.at - BEFORE_ENQ_MS, to };
}

export const AGAIN_CLAUSES: readonly Clause<AstmHost>[] = [
  {
    id: 'A5.1',
    section: "The meter's side: records",
    promise: 'Sending destroys nothing: sent again, every record is there and says the same.',
    async check(host) {
      const first = told(await host.firstTransfer());
      const second = told(await host.anotherTransfer());
      const at = first.findIndex((text, i) => second[i] !== text);
      if (at >= 0) return fails(shown(first[at] ?? ''), second[at] === undefined ? 'nothing' : shown(second[at]));
      const more = second[first.length];
      return more === undefined ? PASSES : fails('nothing more', shown(more));
    },
  },
  {
    id: 'A5.2',
    section: "From records to tests: the meter's clock",
    promise: 'H.14 is stamped no earlier than 5 s before ENQ and no later than the header comes; the clock runs.',
    async check(host) {
      const first = stampOf(await host.firstTransfer());
      if (!first) return notApplicable('the clock is not set');
      if (first.stepMs > 60_000) return notApplicable('the clock shows days only');
      // Long enough for a clock that stands still to be seen through the 5 s and its own step.
      const due = first.to + BEFORE_ENQ_MS + first.stepMs + 2000;
      await host.listen(due - host.now());
      const second = stampOf(await host.anotherTransfer());
      if (!second) return fails('a time in H.14', 'none');
      const gone = second.ms - first.ms;
      const [least, most] = [second.from - first.to - first.stepMs, second.to - first.from + first.stepMs];
      const span = `${(least / 1000).toFixed(1)} to ${(most / 1000).toFixed(1)} s`;
      return gone >= least && gone <= most ? PASSES : fails(`${first.text} and ${span} more`, second.text);
    },
  },
];
