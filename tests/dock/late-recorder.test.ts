/** What is recorded of a dock: nothing while nothing happens, and everything from the question on once something does. */
import { describe, expect, it } from 'vitest';
import type { CaptureChunk } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { recordLate } from '../../src/dock/late-recorder.ts';

const chunk = (at: number, dir: 'in' | 'out', text: string): CaptureChunk => ({
  at: instant(at),
  dir,
  data: Buffer.from(text),
});

function late() {
  const kept: string[] = [];
  const opened: number[] = [];
  const recorder = recordLate((openedAt) => {
    opened.push(openedAt);
    return {
      captureNo: 1,
      record: ({ at, data }) => void kept.push(`${at} ${Buffer.from(data).toString()}`),
      noteClockStep: () => {},
      secure: () => void kept.push('secured'),
      close: () => {},
    };
  });
  recorder.opened(instant(1));
  return { recorder, kept, opened };
}

describe('a late recorder', () => {
  it('begins with everything since the last question that was settled', () => {
    const { recorder, kept, opened } = late();
    for (const at of [10, 20, 30]) {
      recorder.record(chunk(at, 'out', 'HELLO'));
      recorder.record(chunk(at + 1, 'in', 'METER'));
      recorder.quiet();
    }
    recorder.record(chunk(35, 'in', 'NEW'));
    recorder.begin();
    recorder.record(chunk(36, 'out', 'READ'));
    expect(kept).toEqual(['30 HELLO', '31 METER', '35 NEW', '36 READ']);
    expect(opened).toEqual([30]);
  });

  it('keeps every question of a meter that is slow to wake, since an answer may belong to any of them', () => {
    const { recorder, kept, opened } = late();
    for (const at of [10, 11, 12]) recorder.record(chunk(at, 'out', 'HELLO'));
    recorder.record(chunk(13, 'in', 'METER'));
    recorder.begin();
    expect(kept).toEqual(['10 HELLO', '11 HELLO', '12 HELLO', '13 METER']);
    expect(opened).toEqual([1]);
  });

  it('opens no capture where nothing mattered', () => {
    const { recorder, kept, opened } = late();
    recorder.record(chunk(10, 'out', 'HELLO'));
    recorder.secure();
    expect(recorder.recorder).toBeUndefined();
    expect([...kept, ...opened]).toEqual([]);
  });

  it('does not remember without end', () => {
    const { recorder } = late();
    const flood = (): void => {
      for (let i = 0; i < 20; i++) recorder.record(chunk(i, 'in', '#'.repeat(100_000)));
    };
    expect(flood).toThrowError(expect.objectContaining({ code: 'METER_ENDLESS' }));
  });
});
