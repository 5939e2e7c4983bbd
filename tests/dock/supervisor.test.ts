/** The supervisor of one port, step by step: nothing runs, every input is a value. */
import { describe, expect, it } from 'vitest';
import { Fault, type FaultCode } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { PACE, restAfter } from '../../src/dock/pace.ts';
import {
  type DockEffect,
  type DockInput,
  type DockState,
  newDock,
  type SupervisorRules,
  stepDock,
} from '../../src/dock/supervisor.ts';
import type { StoredDownload } from '../../src/store/downloads.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { seedOr } from '../support/seed.ts';

const RULES: SupervisorRules = { pace: PACE, isNetwork: false, manners: [{ asks: true, listens: false }] };
const AT = instant(0);
const meter = { id: 'SN1', model: 'GM-10' };
const fault = (code: FaultCode): Fault => new Fault(code, code, 'Do this.');
const download = (complete: boolean): StoredDownload =>
  ({ id: 'D1', complete, until: AT }) as unknown as StoredDownload;

type Bare = DockInput extends infer T ? (T extends DockInput ? Omit<T, 'at'> : never) : never;

/** Runs inputs, a second apart, and gives the state with the kinds of the last step's effects. */
function run(inputs: readonly Bare[], rules = RULES): { state: DockState; effects: DockEffect[]; all: DockEffect[] } {
  let state = newDock(AT);
  let effects: readonly DockEffect[] = [];
  const all: DockEffect[] = [];
  for (const [i, input] of inputs.entries()) {
    ({ state, effects } = stepDock(rules, state, { ...input, at: instant((i + 1) * 1000) } as DockInput));
    all.push(...effects);
  }
  return { state, effects: [...effects], all };
}

const SEEN = { kind: 'port-seen', port: 'P' } as const;
const OPENED = { kind: 'opened' } as const;
const ENDED = { kind: 'talk-ended' } as const;
const reading = { kind: 'progress', progress: { phase: 'reading', read: 3, held: 9, meter } } as const;
const waiting = { kind: 'progress', progress: { phase: 'waiting', read: 0, held: 9, meter } } as const;
const whole = { kind: 'taken-in', downloads: [download(true)], isOpen: true } as const;
const failed = (code: FaultCode, isOpen = true) =>
  ({ kind: 'taken-in', downloads: [], fault: fault(code), isOpen }) as const;

describe('a supervisor', () => {
  it('goes through the phases of a download in their order', () => {
    const steps: Bare[] = [
      SEEN,
      OPENED,
      reading,
      { kind: 'progress', progress: { phase: 'setting', read: 9, held: 9, meter } },
      { kind: 'progress', progress: { phase: 'leaving', read: 9, held: 9, meter } },
      ENDED,
      whole,
    ];
    const phases = steps.map((_, i) => run(steps.slice(0, i + 1)).state.phase);
    expect(phases).toEqual(['opening', 'identifying', 'reading', 'setting', 'storing', 'storing', 'docked']);
    expect(run(steps).effects).toMatchObject([
      { kind: 'timer', afterMs: PACE.rereadMs },
      { kind: 'talk', purpose: 'watch', meter, held: 9 },
    ]);
  });

  it('shows how far a reading is', () => {
    expect(run([SEEN, OPENED, reading]).state).toMatchObject({
      phase: 'reading',
      read: 3,
      held: 9,
      meter,
      since: 3000,
    });
  });

  it('rests longer after each failure of one kind, up to a ceiling, and says it once', () => {
    const tries: Bare[] = Array.from({ length: 12 }, (): Bare[] => [
      { kind: 'open-failed', fault: fault('PORT_DENIED') },
      { kind: 'timer' },
    ]).flat();
    const { all } = run([SEEN, ...tries]);
    const rests = all.flatMap((effect) => (effect.kind === 'timer' ? [effect.afterMs / 1000] : []));
    expect(rests).toEqual([1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300]);
    expect(all.filter((effect) => effect.kind === 'say')).toHaveLength(1);
  });

  it('says each change of reason, and the recovery', () => {
    const { all } = run([
      SEEN,
      { kind: 'open-failed', fault: fault('PORT_DENIED') },
      { kind: 'timer' },
      { kind: 'open-failed', fault: fault('PORT_BUSY') },
      { kind: 'timer' },
      OPENED,
      reading,
      ENDED,
      whole,
    ]);
    expect(all.flatMap((e) => (e.kind === 'say' ? [`${e.what} ${e.trouble.code}`] : []))).toEqual([
      'trouble PORT_DENIED',
      'trouble PORT_BUSY',
      'recovered PORT_BUSY',
    ]);
  });

  it('keeps a silent serial port open and tries at once when it says something; one on the network it closes', () => {
    const silent: Bare[] = [SEEN, OPENED, ENDED, failed('METER_SILENT')];
    expect(run(silent).effects.map((e) => e.kind)).toEqual(['say', 'timer']);
    expect(run([...silent, { kind: 'heard' }]).effects.map((e) => e.kind)).toEqual(['timer-off', 'talk']);
    expect(run(silent, { ...RULES, isNetwork: true }).effects.map((e) => e.kind)).toEqual(['say', 'close', 'timer']);
  });

  it('opens again by itself where the port was lost in a download, and is absent where it is gone', () => {
    const lost: Bare[] = [SEEN, OPENED, reading, ENDED, failed('PORT_LOST', false)];
    expect(run(lost).effects.map((e) => e.kind)).toEqual(['look', 'say', 'timer']);
    const gone = run([...lost, { kind: 'port-gone' }]);
    expect(gone.state).toMatchObject({ phase: 'absent', trouble: { code: 'PORT_LOST' } });
    expect(gone.state.port).toBeUndefined();
  });

  it('calls it no trouble when a docked meter is unplugged', () => {
    const { state, all } = run([SEEN, OPENED, reading, ENDED, whole, waiting, ENDED, failed('PORT_LOST', false)]);
    expect(state).toMatchObject({ phase: 'absent' });
    expect(state.trouble).toBeUndefined();
    expect(all.filter((e) => e.kind === 'say')).toEqual([]);
  });

  it('climbs the ladder where a port is lost again and again before any meter has said its name', () => {
    const listening = { ...RULES, isNetwork: true, manners: [{ asks: false, listens: true }] } as const;
    const losses: Bare[] = Array.from({ length: 5 }, (): Bare[] => [
      OPENED,
      ENDED,
      failed('PORT_LOST', false),
      { kind: 'timer' },
    ]).flat();
    const { all } = run([SEEN, ...losses], listening);
    expect(all.flatMap((e) => (e.kind === 'timer' ? [e.afterMs / 1000] : []))).toEqual([1, 2, 4, 8, 16]);
  });

  it('connects once a minute, not without end, to a server that hangs up behind each download', () => {
    const lostAfter = { ...whole, isOpen: false };
    expect(run([SEEN, OPENED, reading, ENDED, lostAfter], { ...RULES, isNetwork: true }).effects.at(-1)).toEqual({
      kind: 'timer',
      afterMs: PACE.helloMs,
    });
  });

  it('reads a docked meter again after an hour, but not where another dock has one of the same name', () => {
    const docked: Bare[] = [SEEN, OPENED, reading, ENDED, whole, waiting];
    expect(run([...docked, { kind: 'timer' }]).effects).toEqual([{ kind: 'end-talk' }]);
    expect(run([...docked, { kind: 'twin', isTwin: true }, { kind: 'timer' }]).effects).toEqual([
      { kind: 'timer', afterMs: PACE.rereadMs },
    ]);
  });

  it('lets who asks for a download wait for the one that runs, and answers with it', () => {
    const asked: Bare[] = [SEEN, OPENED, reading, { kind: 'collect-asked' }];
    expect(run(asked).effects).toEqual([]);
    expect(run([...asked, ENDED, whole]).all.filter((e) => e.kind === 'answer')).toMatchObject([
      { downloads: [{ id: 'D1' }], fault: undefined },
    ]);
  });

  it('answers who asked also when it is stopped', () => {
    const { all, state } = run([
      SEEN,
      OPENED,
      { kind: 'collect-asked' },
      { kind: 'stop', how: 'clean' },
      ENDED,
      failed('METER_SILENT'),
    ]);
    expect(all.filter((e) => e.kind === 'answer')).toHaveLength(1);
    expect(all.at(-1)).toEqual({ kind: 'stopped' });
    expect(state.activity.kind).toBe('stopped');
  });

  const seed = seedOr(20260301);
  it(`never has two conversations or two openings at once, and always has something to wait for (SEED=${seed})`, () => {
    const chance = chanceFrom(seed);
    for (let life = 0; life < 300; life++) {
      let state = newDock(AT);
      let isTalking = false;
      let isOpening = false;
      let hasTimer = false;
      for (let i = 0; i < 120; i++) {
        const code = chance.pick<FaultCode>([
          'METER_SILENT',
          'PORT_LOST',
          'DOWNLOAD_CUT',
          'METER_ENDLESS',
          'STORE_FULL',
        ]);
        // What can happen: anything from outside, and only those answers that something asked for.
        const inputs: [Bare, ...Bare[]] = [
          { kind: 'port-seen', port: chance.pick(['P', 'Q']) },
          { kind: 'port-gone' },
          { kind: 'collect-asked' },
          { kind: 'twin', isTwin: chance.happens(0.5) },
        ];
        if (isOpening) inputs.push(OPENED, { kind: 'open-failed', fault: fault('PORT_BUSY') }, OPENED);
        if (isTalking && state.activity.kind === 'talking') inputs.push(reading, waiting, ENDED, ENDED);
        if (state.activity.kind === 'storing')
          inputs.push(whole, failed(code, chance.happens(0.5)), { ...whole, downloads: [download(false)] });
        if (hasTimer) inputs.push({ kind: 'timer' });
        const input = chance.pick(inputs);
        if (input.kind === 'opened' || input.kind === 'open-failed') isOpening = false;
        if (input.kind === 'taken-in') isTalking = false;
        if (input.kind === 'timer') hasTimer = false;
        const step = stepDock(RULES, state, { ...input, at: instant(i) } as DockInput);
        state = step.state;
        for (const effect of step.effects) {
          if (effect.kind === 'open') {
            expect(isTalking).toBe(false);
            isOpening = true;
          }
          if (effect.kind === 'talk') {
            expect(isTalking).toBe(false);
            isTalking = true;
          }
          if (effect.kind === 'timer') hasTimer = true;
          if (effect.kind === 'timer-off') hasTimer = false;
        }
        const waits = state.activity.kind === 'absent' || isOpening || isTalking || hasTimer;
        expect(waits, JSON.stringify({ input, activity: state.activity })).toBe(true);
      }
    }
  });
});

describe('the ladder', () => {
  it('begins with the first rest and never passes its ceiling', () => {
    expect([1, 2, 3, 10, 1000].map((n) => restAfter(n, 1000, 300_000))).toEqual([1000, 2000, 4000, 300_000, 300_000]);
  });
});
