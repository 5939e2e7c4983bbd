/** What stands on the terminal while a meter is read. */
import { describe, expect, it } from 'vitest';
import { advance, makeLooksKnown, newProgress, progressLines } from '../../src/cli/collect-progress.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import type { TalkProgress } from '../../src/wire/talk.ts';
import { exampleReading } from '../support/exported-readings.ts';

const meter = { id: 'PA00042', model: 'GM-10' };
const test = (value: string): TestRecord =>
  exampleReading({ values: [{ analyte: 'INR', value, unit: '{INR}' }] }).record;
const never = () => false;

describe('the progress of a port', () => {
  it('says what it waits for before anything arrives', () => {
    const port = newProgress('/dev/ttyUSB0');
    expect(progressLines(port, 0, 'ascii', 80)).toEqual(['/dev/ttyUSB0: opening']);
    const waking = advance(port, { phase: 'waking', read: 0 }, 0, never);
    expect(progressLines(waking, 0, 'ascii', 80)).toEqual(['/dev/ttyUSB0: waking the meter']);
  });

  it('shows the tally, the tests read of the tests held, and the time left', () => {
    let port = newProgress('/dev/ttyUSB0');
    const looksKnown = makeLooksKnown([test('2.1')]);
    ['2.1', '2.1', '3.4'].forEach((value, i) => {
      const progress: TalkProgress = { phase: 'reading', meter, held: 8, read: i + 1, test: test(value) };
      port = advance(port, progress, 1000 * i, looksKnown);
    });
    expect(progressLines(port, 2000, 'ascii', 80)).toEqual([
      'GM-10 PA00042 on /dev/ttyUSB0: reading, 3 of 8 tests, about 5 s left',
      "  '||__ ___",
    ]);
  });

  it('counts without an end where the meter does not say how many it holds', () => {
    const port = advance(newProgress('COM3'), { phase: 'reading', read: 2, test: test('2.0') }, 0, never);
    expect(progressLines(port, 0, 'ascii', 80)[0]).toBe('COM3: reading, 2 tests so far');
  });

  it('takes each known test once: a second test with the same stamp and value is drawn as new', () => {
    const looksKnown = makeLooksKnown([test('2.1'), test('2.5')]);
    expect([test('2.1'), test('2.1'), test('2.5')].map(looksKnown)).toEqual([true, false, true]);
  });
});
