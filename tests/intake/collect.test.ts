/** One download from one port, from opening it to the readings in the store, with a port that is handed in. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { type CollectRequest, type CollectTools, collectPort } from '../../src/intake/collect.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { NO_FAULTS, type PortFaults } from '../../src/virtual/faults.ts';
import { virtualPort } from '../../src/virtual/port.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';
import type { OpenLink } from '../../src/wire/transport/link.ts';
import { lostFault } from '../../src/wire/transport/port-errors.ts';
import { tempFolder } from '../store/temp-store.ts';
import { meterWith, realNow } from '../support/meters.ts';

const profiles = loadProfiles('');
const request: CollectRequest = { port: 'A', profile: profiles.get('tlp-generic'), zone: 'UTC', setClock: 'never' };

/** A port with a virtual meter right behind it; tells when it was closed. */
function portWith(tests: number, faults: Partial<PortFaults> = {}) {
  const port = virtualPort(lineSpeaker(), meterWith({ tests }), { ...NO_FAULTS, ...faults }, chanceFrom(1), realNow);
  const fate = { opened: 0, closed: 0 };
  const open: OpenLink = async (name, _settings, events) => {
    fate.opened++;
    let isOpen = true;
    const end = (fault?: Fault): void => {
      if (!isOpen) return;
      isOpen = false;
      fate.closed++;
      port.shut();
      events.closed(fault);
    };
    port.open({
      write: (data) => void setImmediate(() => isOpen && events.data(data)),
      isFull: () => false,
      pull: () => void setImmediate(() => end(lostFault(name))),
    });
    return {
      port: name,
      write: async (data) => port.receive(data),
      close: async () => end(),
    };
  };
  return { open, fate };
}

describe('collecting from a port', () => {
  let store: Store;
  beforeEach(() => {
    store = openStore({ dir: tempFolder(), now: instant(0) });
  });
  afterEach(() => store.close());
  const tools = (open: OpenLink, rest: Partial<CollectTools> = {}): CollectTools => ({
    store,
    profiles,
    context: { now: instant(0), actor: 'test' },
    open,
    now: () => instant(Date.now()),
    ...rest,
  });

  it('stores every byte, then takes the download in and closes the port', async () => {
    const { open, fate } = portWith(12);
    const progress: number[] = [];
    const collected = await collectPort(request, tools(open, { onProgress: (p) => progress.push(p.read) }));
    expect(collected.fault).toBeUndefined();
    expect(collected.downloads).toMatchObject([{ complete: true, new: 12, known: 0, held: 12 }]);
    expect(Math.max(...progress)).toBe(12);
    expect(fate).toEqual({ opened: 1, closed: 1 });
    const { capture, arrival } = store.captures.load(1);
    expect(arrival).toBe(1);
    expect(capture.closedAt).toBeGreaterThanOrEqual(capture.openedAt);
    expect(capture.chunks.reduce((sum, chunk) => sum + chunk.data.length, 0)).toBe(collected.downloads[0]?.bytes);
  });

  it('leaves no trace of a port that could not be opened', async () => {
    const missing = new Fault('PORT_MISSING', 'There is no port A', 'Plug it in');
    const collected = await collectPort(
      request,
      tools(() => Promise.reject(missing)),
    );
    expect(collected).toEqual({ port: 'A', downloads: [], fault: missing });
    expect(store.captures.unfinished()).toEqual([]);
    expect(() => store.captures.load(1)).toThrow();
  });

  it('keeps what was read when the port goes away, and says so with the reason as cause', async () => {
    const { open } = portWith(40, { pullAfter: 1500 });
    const { downloads, fault } = await collectPort(request, tools(open));
    expect(downloads).toMatchObject([{ complete: false, known: 0 }]);
    expect(downloads[0]?.new).toBeGreaterThan(0);
    expect(fault).toMatchObject({ code: 'DOWNLOAD_CUT', exitCode: 3, cause: { code: 'PORT_LOST' } });
    const again = await collectPort(request, tools(open));
    expect(again.fault).toBeUndefined();
    expect((again.downloads[0]?.new ?? 0) + (again.downloads[0]?.known ?? 0)).toBe(40);
    expect(again.downloads[0]?.known).toBe(downloads[0]?.new);
  });

  it('stops at once where the store can keep no more, and closes the port', async () => {
    const { open, fate } = portWith(40);
    const full = new Fault('STORE_FULL', 'No room left', 'Free some space');
    const captures = {
      ...store.captures,
      append: () => {
        throw full;
      },
    };
    const collected = await collectPort(request, tools(open, { store: { ...store, captures } }));
    expect(collected).toEqual({ port: 'A', downloads: [], fault: full });
    expect(fate.closed).toBe(1);
  });

  it('says that no meter named itself where it was stopped before one did', async () => {
    const { open } = portWith(5, { behaves: 'silent' });
    const collected = await collectPort(request, tools(open, { signal: AbortSignal.abort() }));
    expect(collected.downloads).toEqual([]);
    expect(collected.fault?.exitCode).toBe(1);
  });
});
