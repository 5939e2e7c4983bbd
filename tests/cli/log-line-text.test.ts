/** What the daemon says in the foreground. */
import { describe, expect, it } from 'vitest';
import { logLineText } from '../../src/cli/log-line-text.ts';

describe('a line of the log for people', () => {
  it.each([
    [{ level: 'info', facts: { docks: 1 }, message: 'started' }, 'started (1 dock)'],
    [{ level: 'info', facts: { docks: 16 }, message: 'started' }, 'started (16 docks)'],
    [
      { level: 'info', facts: { port: 'COM3', download: 'D17', new: 3, known: 57 }, message: 'meter read' },
      'COM3: meter read (D17, 3 new, 57 known)',
    ],
    [
      { level: 'warn', facts: { dock: 'room 2', code: 'PORT_DENIED' }, message: 'trouble' },
      'room 2: trouble (PORT_DENIED); "tallydock status" says what to do',
    ],
    [
      { level: 'info', facts: { dock: 'room 2', code: 'METER_SILENT' }, message: 'trouble' },
      'room 2: no meter answers (METER_SILENT)',
    ],
    [
      { level: 'info', facts: { dock: 'room 2', code: 'PORT_DENIED' }, message: 'all is well again' },
      'room 2: all is well again (PORT_DENIED)',
    ],
  ] as const)('%j is "%s"', (line, text) => {
    expect(logLineText(line)).toBe(text);
  });
});
