/** The PC's clock is changed while a dock reads: the daemon's own conversations notice it like `collect` does. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../../src/core/instant.ts';
import { PACE } from '../../../src/dock/pace.ts';
import { holdSession } from '../../../src/dock/session.ts';
import { loadProfiles } from '../../../src/intake/profile-library.ts';
import { takeInCapture } from '../../../src/intake/take-in.ts';
import { chanceFrom } from '../../../src/virtual/chance.ts';
import { NO_FAULTS } from '../../../src/virtual/faults.ts';
import { virtualPort } from '../../../src/virtual/port.ts';
import { lineSpeaker } from '../../../src/virtual/speak-line.ts';
import { realTimers } from '../../../src/wire/timers.ts';
import { tempStore } from '../../store/temp-store.ts';
import { countedLink } from '../../support/counted-link.ts';
import { meterWith, realNow } from '../../support/meters.ts';

const profiles = loadProfiles('/nowhere');

describe('a session at a dock', () => {
  it('ends with CLOCK_STEPPED before it would set the meter’s clock, and its bytes know of the step', async () => {
    const store = tempStore();
    const port = virtualPort(lineSpeaker(), meterWith({ tests: 9 }), NO_FAULTS, chanceFrom(1), realNow);
    const { open, heard, sent } = countedLink(port);
    const end = await holdSession(
      {
        port: 'A',
        profile: profiles.get('tlp-generic'),
        zone: 'UTC',
        setClock: 'always',
        purpose: 'read',
        listenMs: 1000,
      },
      {
        store,
        host: {
          now: () => instant(Date.now() + (heard() >= 2 ? 7_200_000 : 0)),
          monotonicMs: () => performance.now(),
          timers: realTimers,
        },
        pace: PACE,
        open,
        guard: () => undefined,
        onProgress: () => {},
        signal: new AbortController().signal,
      },
    );
    expect(end.fault).toMatchObject({ code: 'CLOCK_STEPPED' });
    expect(sent).not.toContain('SET ');
    const captureNo = end.recorder?.captureNo ?? 0;
    end.recorder?.close(end.closedAt);
    expect(Math.abs((store.captures.load(captureNo).capture.clockStepS ?? 0) - 7200)).toBeLessThan(1);
    const { downloads } = takeInCapture(store, captureNo, profiles, { now: instant(0), actor: 'test' });
    expect(downloads).toMatchObject([{ complete: true, new: 9 }]);
  });
});
