import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { CaptureChunk } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { openRecorder } from '../../src/intake/recorder.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';

const header = { port: 'COM3', profile: 'tlp-generic', zone: 'Europe/Lisbon', openedAt: instant(1_000) };
const chunk = (n: number, size = 3): CaptureChunk => ({
  at: instant(2_000 + n),
  dir: n % 2 === 0 ? 'out' : 'in',
  data: new Uint8Array(size).fill(n),
});
const stored = (store: Store, no: number): readonly CaptureChunk[] => store.captures.load(no).capture.chunks;

/** Leaves the store room for a few more pages only. */
function narrow(store: Store, morePages: number): void {
  const pages = store.db.statement<{ page_count: number }>('PRAGMA page_count').get()?.page_count ?? 0;
  store.db.statement(`PRAGMA max_page_count = ${pages + morePages}`).get();
}

describe('recording a conversation', () => {
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => void vi.useRealTimers());

  it('has the capture in the store before the first byte, owned by this process', () => {
    const store = tempStore();
    const { captureNo } = openRecorder(store, header);
    expect(store.captures.unfinished()).toMatchObject([{ captureNo, sealed: false, owner: { pid: process.pid } }]);
  });

  it('writes chunks at the latest 200 ms after the first of them came', () => {
    const store = tempStore();
    const recorder = openRecorder(store, header);
    recorder.record(chunk(1));
    vi.advanceTimersByTime(150);
    recorder.record(chunk(2));
    expect(stored(store, recorder.captureNo)).toEqual([]);
    vi.advanceTimersByTime(50);
    expect(stored(store, recorder.captureNo)).toEqual([chunk(1), chunk(2)]);
    recorder.record(chunk(3));
    vi.advanceTimersByTime(200);
    expect(stored(store, recorder.captureNo)).toEqual([chunk(1), chunk(2), chunk(3)]);
  });

  it('has everything on the disk when secure returns', () => {
    const store = tempStore();
    const recorder = openRecorder(store, header);
    for (let n = 0; n < 50; n++) recorder.record(chunk(n));
    recorder.secure();
    expect(stored(store, recorder.captureNo)).toEqual(Array.from({ length: 50 }, (_, n) => chunk(n)));
    expect(vi.getTimerCount()).toBe(0);
  });

  it('seals the whole conversation with its closing time', () => {
    const store = tempStore();
    const recorder = openRecorder(store, header);
    recorder.record(chunk(1));
    recorder.secure();
    recorder.record(chunk(2));
    recorder.close(instant(9_000));
    expect(store.captures.load(recorder.captureNo).capture).toEqual({
      ...header,
      chunks: [chunk(1), chunk(2)],
      closedAt: instant(9_000),
    });
    expect(store.captures.unfinished()).toMatchObject([{ sealed: true }]);
  });

  it('says STORE_FULL at secure, loses nothing, and writes it all once there is room', () => {
    const store = tempStore();
    const recorder = openRecorder(store, header);
    recorder.record(chunk(1));
    recorder.secure();
    narrow(store, 3);
    for (let n = 2; n < 60; n++) recorder.record(chunk(n, 1_000));
    expect(() => recorder.secure()).toThrow(/No room left/);
    expect(stored(store, recorder.captureNo)).toEqual([chunk(1)]);
    narrow(store, 1_000);
    recorder.close(instant(9_000));
    expect(stored(store, recorder.captureNo)).toHaveLength(59);
  });

  it('tells at the next chunk that a write in the background failed', () => {
    const store = tempStore();
    const recorder = openRecorder(store, header);
    narrow(store, 0);
    recorder.record(chunk(1, 60_000));
    vi.advanceTimersByTime(200);
    expect(() => recorder.record(chunk(2))).toThrow(/No room left/);
    narrow(store, 1_000);
    recorder.secure();
    expect(stored(store, recorder.captureNo)).toEqual([chunk(1, 60_000), chunk(2)]);
  });
});
