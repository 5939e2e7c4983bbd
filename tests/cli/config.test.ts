/** Which zone a call works in. The file itself is tested in tests/dock/config.test.ts. */
import { describe, expect, it } from 'vitest';
import { dockZone } from '../../src/cli/config.ts';

describe('the zone of a dock', () => {
  it('gives way to the zone of the call, and itself goes before the zone of the computer', () => {
    expect(dockZone('Asia/Kathmandu', { zone: 'Europe/Lisbon' })).toBe('Asia/Kathmandu');
    expect(dockZone(undefined, { zone: 'Europe/Lisbon' })).toBe('Europe/Lisbon');
    expect(dockZone(undefined, {})).toBe(new Intl.DateTimeFormat().resolvedOptions().timeZone);
    expect(() => dockZone('Atlantis', {})).toThrowError(expect.objectContaining({ code: 'ZONE_UNKNOWN' }));
  });
});
