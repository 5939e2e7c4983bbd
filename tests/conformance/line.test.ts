/** The clauses of TLP/1: the virtual meter keeps all of them, and each broken one fails where it is broken. */
import { describe, expect, it } from 'vitest';
import { LINE_CLAUSES } from '../../scripts/conformance/line/clauses.ts';
import { losePower, type VirtualMeter } from '../../src/virtual/meter.ts';
import { LINE_HABITS, type LineHabits, lineSpeaker } from '../../src/virtual/speak-line.ts';
import { meterWith, TEST_NOW } from '../support/meters.ts';
import { type Device, deviceOf } from './device.ts';
import { ended, examineDevice, failures } from './examine-device.ts';
import { LINE_BREAKS } from './line-breaks.ts';

const lineDevice = (meter: VirtualMeter, habits: Partial<LineHabits> = {}): Device =>
  deviceOf(lineSpeaker({ ...LINE_HABITS, ...habits }), meter);

const usual = () => meterWith({ tests: 12, errors: 0.2 });

describe('a virtual meter that keeps TLP/1', () => {
  it.each<[string, VirtualMeter, Partial<LineHabits>]>([
    ['newest first', usual(), {}],
    ['oldest first', meterWith({ tests: 12, order: 'oldest' }), {}],
    ['a ring that has wrapped', meterWith({ tests: 31, capacity: 20, order: 'ring' }), {}],
    ['a full memory', meterWith({ tests: 25, capacity: 20 }), {}],
    ['one result', meterWith({ tests: 1 }), {}],
    ['no result', meterWith({ tests: 0 }), {}],
    ['a clock without seconds', { ...usual(), clockResolutionMs: 60_000, stampResolutionMs: 60_000 }, {}],
    ['a clock that is not set', losePower(usual(), TEST_NOW), {}],
    ['a clock that cannot be set', usual(), { clockCanBeSet: false }],
    ['four calls to wake it', usual(), { sleepsThrough: 4 }],
    ['1.9 seconds of thought', usual(), { answersAfterMs: 1900 }],
    ['no running numbers and no count of losses', { ...usual(), tellsRunNumbers: false, tellsLosses: false }, {}],
  ])('passes with %s', async (_, meter, habits) => {
    const examined = await examineDevice(lineDevice(meter, habits), 'tlp');
    expect(failures(examined)).toEqual([]);
    expect(examined.meter).toEqual({ model: 'GM-10', id: 'SN00042', firmware: '1.0' });
    expect(examined.clauses.map(({ id }) => id)).toEqual(LINE_CLAUSES.map(({ id }) => id));
    // A verdict that says nothing of most clauses would be no examination.
    expect(ended(examined, 'passes').length).toBeGreaterThan(meter.memory.held.length > 1 ? 48 : 30);
  });

  it('has its clock put back to what it showed, plus the time gone since', async () => {
    const speaker = lineSpeaker();
    let state = speaker.begin(usual());
    let lastAt = 0;
    const device = deviceOf(
      {
        begin: () => state,
        step(_, input) {
          const step = speaker.step(state, input);
          state = step.state;
          lastAt = input.at;
          return step;
        },
      },
      usual(),
    );
    await examineDevice(device, 'tlp');
    const { setting } = state.meter.clock;
    expect(lastAt).toBeGreaterThan(TEST_NOW + 30_000);
    expect(Math.abs((setting?.shows ?? 0) - (setting?.at ?? 0))).toBeLessThanOrEqual(3000);
  });
});

describe('a meter that breaks TLP/1', () => {
  it.each(LINE_BREAKS)('fails at $fails where it $name', async ({ wrap, fails, order }) => {
    const meter = order === 'ring' ? meterWith({ tests: 12, order }) : usual();
    const examined = await examineDevice(wrap(lineDevice(meter)), 'tlp');
    expect(ended(examined, 'fails'), failures(examined).join('\n')).toEqual(fails);
  });

  it('is found by every clause in the table', () => {
    const found = new Set(LINE_BREAKS.flatMap(({ fails }) => fails));
    expect(LINE_CLAUSES.map(({ id }) => id).filter((id) => !found.has(id))).toEqual([]);
  });
});
