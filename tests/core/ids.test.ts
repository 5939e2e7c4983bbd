/** Names that last for ever: readings, downloads, meters. */
import { describe, expect, it } from 'vitest';
import { meterKey } from '../../src/core/download.ts';
import { downloadId, readingId } from '../../src/core/reading.ts';

describe('ids', () => {
  it('name a download by its capture, and a second meter in the same capture by its ordinal', () => {
    expect([downloadId(17, 0), downloadId(17, 1), downloadId(17, 2)]).toEqual(['D17', 'D17.2', 'D17.3']);
  });

  it('name a reading by where it was first seen', () => {
    expect(readingId(downloadId(17, 0), '3')).toBe('D17-3');
    expect(readingId(downloadId(17, 1), 'n1')).toBe('D17.2-n1');
  });

  it('tell two meters with the same serial number apart by their model', () => {
    expect(meterKey({ id: 'SN1', model: 'A' })).not.toBe(meterKey({ id: 'SN1', model: 'B' }));
    expect(meterKey({ id: 'SN1', model: 'A' })).toBe(meterKey({ id: 'SN1', model: 'A' }));
    expect(meterKey({ id: 'B1', model: 'A' })).not.toBe(meterKey({ id: '1', model: 'AB' }));
  });
});
