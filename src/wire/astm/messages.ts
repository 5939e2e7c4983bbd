/**
 * From the records of one transfer to the messages in it: who spoke, what its clock showed, which tests it told and how
 * the message ended. A message belongs to the meter that its own header names, and to no other.
 */
import type { MeterIdentity } from '../../core/download.ts';
import type { Instant } from '../../core/instant.ts';
import type { MeterTime } from '../../core/meter-time.ts';
import type { MeterProfile } from '../profile.ts';
import { readDelimiters } from './delimiters.ts';
import { type RecordView, viewRecord } from './record-view.ts';
import { headerClock, identityOf, isTest, type TestDraft, type TestGroup, testOf } from './test-group.ts';
import type { Transfer } from './transfers.ts';

/** One test as one message tells it. `isOpen`: more records may belong to it. */
export interface Told {
  readonly test: TestDraft;
  /** Its records, where it may be the half of a test that was broken off; thousands of others need not be kept. */
  readonly half?: TestGroup;
  readonly isOpen: boolean;
}

/**
 * How a message ended. `normal`: L with no code, N or F, or with I and no test before it; `aborted`: L with T, R, E or an
 * unknown code; `refused`: L with Q, or with I although there were tests; `none`: without L.
 */
export type Ending = 'normal' | 'aborted' | 'refused' | 'none';

/** One message of one meter. */
export interface Message {
  readonly meter: MeterIdentity;
  /** What the meter's clock showed, and when its header had arrived. */
  readonly clock?: MeterTime;
  readonly headerAt: Instant;
  readonly tests: readonly Told[];
  readonly ending: Ending;
  /** True where a record made no sense, or an order came without a result. */
  readonly isDamaged: boolean;
}

function endingOf(code: string, tests: number): Ending {
  if (code === '' || code === 'N' || code === 'F') return 'normal';
  // Nothing available, in answer to a question for everything: the memory is empty.
  if (code === 'I') return tests === 0 ? 'normal' : 'refused';
  return code === 'Q' ? 'refused' : 'aborted';
}

/** The messages of a transfer. What comes before a header that names its meter is not used. */
export function readMessages(transfer: Transfer, profile: MeterProfile): Message[] {
  const messages: Message[] = [];
  let at = 0;
  while (at < transfer.records.length) {
    let end = at + 1;
    while (end < transfer.records.length && !transfer.records[end]?.text.startsWith('H')) end++;
    const message = readMessage(transfer, at, end, profile);
    if (message) messages.push(message);
    at = end;
  }
  return messages;
}

function readMessage(transfer: Transfer, start: number, end: number, profile: MeterProfile): Message | undefined {
  const first = transfer.records[start];
  if (!first) return undefined;
  const delimiters = readDelimiters(first.text);
  if (!delimiters.ok) return undefined;
  const parsed = viewRecord(first.text, delimiters.value);
  const meter = parsed.ok ? identityOf(parsed.value, profile) : undefined;
  if (!parsed.ok || meter === undefined) return undefined;
  const header = parsed.value;

  const tests: Told[] = [];
  let ending: Ending = 'none';
  let isDamaged = false;
  let patient: RecordView | undefined;
  let order: RecordView | undefined;
  let parts: RecordView[] = [];
  let isDoubtful = false;
  const closeGroup = (isOpen: boolean): void => {
    if (order === undefined) return;
    const group: TestGroup = { header, patient, order, parts };
    if (isTest(group)) {
      const test = testOf(group, profile);
      const mayBeHalf = isOpen || isDoubtful || (tests.length === 0 && firstResult(group) > 1);
      tests.push(mayBeHalf ? { test, isOpen: true, half: group } : { test, isOpen: false });
    } else isDamaged ||= !isOpen;
    order = undefined;
    parts = [];
    isDoubtful = false;
  };
  for (let i = start + 1; i < end && ending === 'none'; i++) {
    const text = transfer.records[i]?.text ?? '';
    const read = viewRecord(text, delimiters.value);
    if (!read.ok) {
      isDamaged = true;
      isDoubtful = true;
      continue;
    }
    switch (read.value.type) {
      case 'P':
        closeGroup(false);
        patient = read.value;
        break;
      case 'O':
        closeGroup(false);
        order = read.value;
        break;
      case 'L':
        closeGroup(false);
        ending = endingOf(read.value.component(3, 1), tests.length);
        break;
      case 'R':
        if (order === undefined) isDamaged = true;
        parts.push(read.value);
        break;
      case 'C':
      case 'M':
      case 'S':
        parts.push(read.value);
        break;
      case 'Q':
      case 'H':
        closeGroup(false);
        break;
    }
    if (order === undefined) parts = []; // comments on a header or patient belong to no test
  }
  closeGroup(true);
  const clock = headerClock(header, profile);
  return { meter, ...(clock ? { clock } : {}), headerAt: first.at, tests, ending, isDamaged };
}

/** The number of a test's first result among the results of its order. */
export const firstResult = (group: TestGroup): number => {
  const result = group.parts.find((part) => part.type === 'R');
  return result ? Number(result.component(2, 1)) || 1 : 1;
};
