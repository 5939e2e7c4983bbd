/** The clauses of E1381 and E1394: the virtual meter keeps all of them, and each broken one fails where it is broken. */
import { describe, expect, it } from 'vitest';
import { ASTM_CLAUSES } from '../../scripts/conformance/astm/clauses.ts';
import { losePower, type VirtualMeter } from '../../src/virtual/meter.ts';
import { ASTM_HABITS, type AstmHabits, astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { meterWith, TEST_NOW } from '../support/meters.ts';
import { ASTM_BREAKS } from './astm-breaks.ts';
import { type Device, deviceOf } from './device.ts';
import { ended, examineDevice, failures } from './examine-device.ts';

const astmDevice = (meter: VirtualMeter, habits: Partial<AstmHabits> = {}): Device =>
  deviceOf(astmSpeaker({ ...ASTM_HABITS, ...habits }), meter);

const usual = () => meterWith({ tests: 12, errors: 0.2 });

describe('a virtual meter that keeps E1381 and E1394', () => {
  it.each<[string, VirtualMeter, Partial<AstmHabits>]>([
    ['newest first', usual(), {}],
    ['oldest first', meterWith({ tests: 12, order: 'oldest' }), {}],
    ['a memory of 200', meterWith({ tests: 230 }), {}],
    ['one result', meterWith({ tests: 1 }), {}],
    ['no result', meterWith({ tests: 0 }), {}],
    ['a clock without seconds', { ...usual(), clockResolutionMs: 60_000, stampResolutionMs: 60_000 }, {}],
    ['a clock that is not set', losePower(usual(), TEST_NOW), {}],
    ['a moment of thought', usual(), { answersAfterMs: 300 }],
    ['a habit of calling again', usual(), { callsAgainMs: 30_000 }],
  ])('passes with %s, by itself and when asked', async (_, meter, habits) => {
    for (const isAsked of [false, true]) {
      const device = astmDevice(meter, { ...habits, waitsToBeAsked: isAsked });
      const examined = await examineDevice(device, 'astm', isAsked ? 'when asked' : 'by itself');
      expect(failures(examined)).toEqual([]);
      expect(examined.meter).toEqual({ model: 'GM-10', id: 'SN00042', firmware: '1.0' });
      expect(examined.clauses.map(({ id }) => id)).toEqual(ASTM_CLAUSES.map(({ id }) => id));
      expect(ended(examined, 'passes').length).toBeGreaterThan(meter.memory.held.length > 1 ? 40 : 25);
      expect(ended(examined, 'passes').some((id) => id.startsWith('A6'))).toBe(isAsked);
    }
  });
});

describe('a meter that breaks E1381 or E1394', () => {
  it.each(ASTM_BREAKS)('fails at $fails where it $name', async ({ wrap, habits, fails, isAsked = false }) => {
    const good = astmDevice(usual(), { ...habits, waitsToBeAsked: isAsked });
    const examined = await examineDevice(wrap ? wrap(good) : good, 'astm', isAsked ? 'when asked' : 'by itself');
    expect(ended(examined, 'fails'), failures(examined).join('\n')).toEqual(fails);
  });

  it('is found by every clause in the table', () => {
    const found = new Set(ASTM_BREAKS.flatMap(({ fails }) => fails));
    expect(ASTM_CLAUSES.map(({ id }) => id).filter((id) => !found.has(id))).toEqual([]);
  });
});
