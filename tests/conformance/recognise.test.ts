/** Which protocol a meter speaks is found out by lines and frames with a right sum, and by nothing else. */
import { describe, expect, it } from 'vitest';
import { ASTM_HABITS, type AstmHabits, astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { LINE_HABITS, lineSpeaker } from '../../src/virtual/speak-line.ts';
import { meterWith } from '../support/meters.ts';
import { type Device, deviceOf } from './device.ts';
import { examineDevice, failures } from './examine-device.ts';

const meter = meterWith({ tests: 12, errors: 0.2 });
const line = (sleepsThrough = 0): Device => deviceOf(lineSpeaker({ ...LINE_HABITS, sleepsThrough }), meter);
const astm = (habits: Partial<AstmHabits> = {}): Device => deviceOf(astmSpeaker({ ...ASTM_HABITS, ...habits }), meter);

describe('a meter of which nobody says what it speaks', () => {
  it.each([
    ['TLP/1', line(), 'tlp'],
    ['TLP/1 and sleeps through three calls', line(3), 'tlp'],
    ['ASTM, by itself', astm(), 'astm'],
    ['ASTM, and thinks before it does', astm({ answersAfterMs: 250 }), 'astm'],
  ] as const)('is held to what it speaks: %s', async (_, device, protocol) => {
    const examined = await examineDevice(device);
    expect(examined.protocol).toBe(protocol);
    expect(failures(examined)).toEqual([]);
  });

  it('is asked where it is said to answer questions', async () => {
    const examined = await examineDevice(astm({ waitsToBeAsked: true }), undefined, 'when asked');
    expect(examined.protocol).toBe('astm');
    expect(failures(examined)).toEqual([]);
  });

  it.each<[string, (device: Device) => Device]>([
    ['says nothing', () => () => ({ says: [] })],
    [
      'says the same line whatever it is asked',
      () =>
        ({ at }) => ({ says: [{ from: at, text: 'READY\r\n' }] }),
    ],
    [
      'has no right sum',
      (device) => (happening) => {
        const reaction = device(happening);
        return {
          ...reaction,
          says: reaction.says.map(({ from, text }) => ({ from, text: text.replace(/..\r\n$/, 'ZZ\r\n') })),
        };
      },
    ],
  ])('is not taken for one where it %s', async (_, wrap) => {
    for (const device of [line(), astm()])
      await expect(examineDevice(wrap(device))).rejects.toMatchObject({ code: 'METER_SILENT' });
  });
});
