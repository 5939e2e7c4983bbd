import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { type Replayed, replayFiles } from '../../src/intake/replay.ts';
import type { Store } from '../../src/store/store.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';
import { captureOf } from './told-meter.ts';

const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const AT = Date.UTC(2026, 0, 10, 9, 0, 0);
const one = captureOf({ at: instant(AT), tests: [{ stamp: '2026-01-09T08:00:00', inr: '2.4' }] });

function fileWith(text: string, name = 'visit.capture.jsonl'): string {
  const file = join(tempFolder(), name);
  writeFileSync(file, text);
  return file;
}

const replay = (store: Store, ...files: string[]): Replayed[] => [...replayFiles(store, files, profiles, context)];

describe('replaying capture files', () => {
  it('takes them in and tells what became of each', () => {
    const store = tempStore();
    const file = fileWith(formatCapture(one));
    expect(replay(store, file, file)).toMatchObject([
      { file, taken: { captureNo: 1, already: false, downloads: [{ id: 'D1', new: 1, at: AT + 60 }] } },
      { file, taken: { captureNo: 1, already: true } },
    ]);
    expect(store.captures.load(1)).toMatchObject({ capture: one, source: 'file', arrival: 1 });
  });

  it.each<[string, (good: string) => string, RegExp]>([
    ['a line that is no JSON', (good) => good.replace(/\{"at"/, '{"at'), /visit\.capture\.jsonl, line 2/],
    ['a zone that does not exist', (good) => good.replace('Europe/Lisbon', 'Europe/Atlantis'), /line 1.*Atlantis/],
    ['nothing in it', () => '', /line 1/],
    [
      'a profile that is not here',
      (good) => good.replace('tlp-generic', 'their-own'),
      /visit\.capture\.jsonl, line 1.*"their-own"/,
    ],
  ])('stops at a file with %s, names it, and keeps what came before', (_, spoil, message) => {
    const store = tempStore();
    const good = formatCapture(one);
    expect(() => replay(store, fileWith(good), fileWith(spoil(good)), fileWith(good))).toThrow(message);
    expect(store.downloads.list().map((d) => d.id)).toEqual(['D1']);
  });

  it('says which file is missing', () => {
    expect(() => replay(tempStore(), join(tempFolder(), 'gone.capture.jsonl'))).toThrow(
      /no file .*gone\.capture\.jsonl/,
    );
  });

  it('takes in a file whose conversation is stored but was never taken in', () => {
    const store = tempStore();
    const failing = {
      ...profiles,
      get: () => {
        throw new Error('stopped');
      },
    };
    const file = fileWith(formatCapture(one));
    expect(() => [...replayFiles(store, [file], failing, context)]).toThrow('stopped');
    expect(replay(store, file)).toMatchObject([{ taken: { already: false, downloads: [{ new: 1 }] } }]);
  });

  it('keeps captures of one port apart by meter', () => {
    const store = tempStore();
    const other: Capture = captureOf({
      at: instant(AT + 60_000),
      tests: [{ stamp: '2026-01-09T08:00:00', inr: '2.4' }],
      id: 'PA00043',
    });
    replay(store, fileWith(formatCapture(one)), fileWith(formatCapture(other)));
    expect(store.meters.list().map((m) => m.id)).toEqual(['PA00042', 'PA00043']);
    expect([...store.readings.pages({ meter: 'PA00043' })].flat().map((r) => r.id)).toEqual(['D2-1']);
  });
});
