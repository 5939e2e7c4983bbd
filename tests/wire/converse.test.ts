/** The driver between a talk and a port: order, records, timers, and that no port stays open. */
import { describe, expect, it } from 'vitest';
import type { CaptureChunk } from '../../src/core/capture.ts';
import { Fault } from '../../src/core/fault.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { type ConverseOptions, converse } from '../../src/wire/converse.ts';
import type { Talk, TalkEffect, TalkInput, TalkOutcome } from '../../src/wire/talk.ts';
import { LINK_DEFAULTS, type LinkEvents, type OpenLink } from '../../src/wire/transport/link.ts';

const DONE: TalkOutcome = { complete: true, clockSet: false };
const END: TalkEffect = { kind: 'end', outcome: DONE };
const bytes = (text: string): Uint8Array => Buffer.from(text);

/** A port in memory: what is written, and a hand on its events. */
function fakePort(answer: (sent: string, events: LinkEvents) => void = () => undefined) {
  const port = { written: [] as string[], closes: 0, events: undefined as LinkEvents | undefined };
  const open: OpenLink = async (name, _settings, events) => {
    port.events = events;
    let isOpen = true;
    return {
      port: name,
      async write(data) {
        const text = Buffer.from(data).toString();
        port.written.push(text);
        answer(text, events);
      },
      async close() {
        port.closes++;
        if (isOpen) events.closed();
        isOpen = false;
      },
    };
  };
  return { port, open };
}

/** A talk from a function of the inputs so far; the inputs are kept. */
function scripted(react: (input: TalkInput, heard: readonly TalkInput[]) => TalkEffect[]) {
  const heard: TalkInput[] = [];
  const talk: Talk<number> = {
    initial: 0,
    step(state, input) {
      heard.push(input);
      return { state: state + 1, effects: react(input, heard) };
    },
  };
  return { talk, heard, kinds: () => heard.map((input) => input.kind) };
}

/** A clock that moves by one millisecond at every look. */
function ticking(): () => Instant {
  let at = 1000;
  return () => instant(at++);
}

function run(options: Partial<ConverseOptions<number>> & Pick<ConverseOptions<number>, 'talk' | 'open'>) {
  const chunks: CaptureChunk[] = [];
  const done = converse({
    port: 'COM3',
    settings: LINK_DEFAULTS,
    now: ticking(),
    record: (chunk) => chunks.push(chunk),
    secure: async () => undefined,
    ...options,
  });
  return { done, chunks };
}

describe('a conversation over a port', () => {
  it('hands on what comes, sends what is wanted, and closes the port once it ends', async () => {
    const { port, open } = fakePort((sent, events) => sent === 'ask' && events.data(bytes('answer')));
    const { talk, kinds } = scripted(({ kind }) =>
      kind === 'opened' ? [{ kind: 'send', data: bytes('ask') }] : [{ kind: 'send', data: bytes('bye') }, END],
    );
    const { done, chunks } = run({ talk, open });
    expect(await done).toMatchObject({ outcome: DONE });
    expect(await done).not.toHaveProperty('fault');
    expect(kinds()).toEqual(['opened', 'bytes']);
    expect(port.written).toEqual(['ask', 'bye']);
    expect(port.closes).toBeGreaterThan(0);
    expect(chunks.map((c) => [c.dir, Buffer.from(c.data).toString()])).toEqual([
      ['out', 'ask'],
      ['in', 'answer'],
      ['out', 'bye'],
    ]);
    expect(chunks.map((c) => c.at)).toEqual([...chunks.map((c) => c.at)].sort((a, b) => a - b));
  });

  it('records every chunk before the talk sees it, with the same time', async () => {
    const seen: string[] = [];
    const { port, open } = fakePort();
    const { talk, heard } = scripted((input) => {
      if (input.kind === 'bytes') seen.push('talk');
      return input.kind === 'bytes' ? [END] : [];
    });
    const chunks: CaptureChunk[] = [];
    const { done } = run({
      talk,
      open,
      record: (chunk) => {
        seen.push('record');
        chunks.push(chunk);
      },
      onOpened: () => seen.push('opened'),
    });
    await new Promise(setImmediate);
    port.events?.data(bytes('x'));
    await done;
    expect(seen).toEqual(['opened', 'record', 'talk']);
    expect(heard[1]?.at).toBe(chunks[0]?.at);
  });

  it('says opened first even where bytes come with the opening', async () => {
    const open: OpenLink = async (name, settings, events) => {
      events.data(bytes('early'));
      return fakePort().open(name, settings, events);
    };
    const { talk, kinds } = scripted((input) => (input.kind === 'bytes' ? [END] : []));
    await run({ talk, open }).done;
    expect(kinds()).toEqual(['opened', 'bytes']);
  });

  it('has one timer: a new one replaces it, and one that was replaced is never heard', async () => {
    const { open } = fakePort();
    const { talk, kinds } = scripted(({ kind }, heard) => {
      if (kind === 'opened')
        return [
          { kind: 'timer', afterMs: 60_000 },
          { kind: 'timer', afterMs: 1 },
        ];
      if (heard.length === 2) return [{ kind: 'timer', afterMs: 1 }, { kind: 'timer-off' }, { kind: 'secure' }];
      return kind === 'safe' ? [END] : [];
    });
    await run({ talk, open }).done;
    expect(kinds()).toEqual(['opened', 'timer', 'safe']);
  });

  it('goes on hearing bytes while they are being stored', async () => {
    const { port, open } = fakePort();
    let stored: () => void = () => undefined;
    const { talk, kinds } = scripted(({ kind }) =>
      kind === 'opened' ? [{ kind: 'secure' }] : kind === 'safe' ? [END] : [],
    );
    const { done } = run({ talk, open, secure: () => new Promise((resolve) => (stored = resolve)) });
    await new Promise(setImmediate);
    port.events?.data(bytes('late'));
    await new Promise(setImmediate);
    stored();
    await done;
    expect(kinds()).toEqual(['opened', 'bytes', 'safe']);
  });

  it('tells why the port went away, and closed is the last that the talk hears', async () => {
    const { port, open } = fakePort();
    const { talk, kinds } = scripted(({ kind }) => (kind === 'closed' ? [END] : []));
    const { done } = run({ talk, open });
    await new Promise(setImmediate);
    port.events?.closed(new Fault('PORT_LOST', 'gone', 'plug it in'));
    port.events?.data(bytes('after'));
    expect((await done).fault?.code).toBe('PORT_LOST');
    expect(kinds()).toEqual(['opened', 'closed']);
  });

  it('takes a port that refuses bytes for one that went away', async () => {
    const { open } = fakePort(() => {
      throw new Fault('PORT_LOST', 'gone', 'plug it in');
    });
    const { talk, kinds } = scripted(({ kind }) => (kind === 'closed' ? [END] : [{ kind: 'send', data: bytes('x') }]));
    expect((await run({ talk, open }).done).fault?.code).toBe('PORT_LOST');
    expect(kinds()).toEqual(['opened', 'closed']);
  });
});

describe('stopping', () => {
  it('lets the talk leave politely', async () => {
    const stop = new AbortController();
    const { port, open } = fakePort();
    const { talk, kinds } = scripted(({ kind }) =>
      kind === 'stop' ? [{ kind: 'send', data: bytes('BYE') }, END] : [],
    );
    const { done } = run({ talk, open, signal: stop.signal });
    await new Promise(setImmediate);
    stop.abort();
    await done;
    expect(kinds()).toEqual(['opened', 'stop']);
    expect(port.written).toEqual(['BYE']);
  });

  it('closes the port on a talk that does not leave', async () => {
    const { open } = fakePort();
    const { talk, kinds } = scripted(({ kind }) => (kind === 'closed' ? [END] : []));
    await run({ talk, open, signal: AbortSignal.abort(), stopMs: 1 }).done;
    expect(kinds()).toEqual(['opened', 'stop', 'closed']);
  });
});

describe('what must never leave a port open', () => {
  const cases: [string, Partial<ConverseOptions<number>>, TalkEffect[]][] = [
    [
      'bytes that cannot be kept',
      {
        record: () => {
          throw new Fault('STORE_FULL', 'full', 'make room');
        },
      },
      [{ kind: 'send', data: bytes('x') }],
    ],
    [
      'a store that cannot be flushed',
      {
        secure: async () => {
          throw new Fault('STORE_FULL', 'full', 'make room');
        },
      },
      [{ kind: 'secure' }],
    ],
    [
      'a listener to progress that fails',
      {
        onProgress: () => {
          throw new Fault('STORE_FULL', 'full', 'make room');
        },
      },
      [{ kind: 'progress', progress: { phase: 'reading', read: 0 } }],
    ],
  ];

  it.each(cases)('%s', async (_, options, effects) => {
    const { port, open } = fakePort();
    const { talk } = scripted(() => effects);
    await expect(run({ talk, open, ...options }).done).rejects.toMatchObject({ code: 'STORE_FULL' });
    expect(port.closes).toBeGreaterThan(0);
  });

  it('a recording that cannot be begun, where bytes come with the opening: the port does not hear of it', async () => {
    const { port, open } = fakePort();
    const early: OpenLink = (name, settings, events) => {
      events.data(bytes('early'));
      return open(name, settings, events);
    };
    const { talk, heard } = scripted(() => []);
    const onOpened = (): void => {
      throw new Fault('STORE_FULL', 'full', 'make room');
    };
    const { done, chunks } = run({ talk, open: early, onOpened });
    await expect(done).rejects.toMatchObject({ code: 'STORE_FULL' });
    expect(port.closes).toBeGreaterThan(0);
    expect([heard, chunks]).toEqual([[], []]);
  });

  it('a talk that throws: the bytes are kept all the same', async () => {
    const { port, open } = fakePort();
    const { talk } = scripted((input) => {
      if (input.kind === 'bytes') throw new Error('broken');
      return [];
    });
    const { done, chunks } = run({ talk, open });
    const failed = expect(done).rejects.toThrow('broken');
    await new Promise(setImmediate);
    port.events?.data(bytes('kept'));
    await failed;
    expect(chunks).toHaveLength(1);
    expect(port.closes).toBeGreaterThan(0);
  });

  it('a talk that goes on after its port was gone', async () => {
    const { port, open } = fakePort();
    const { talk } = scripted(() => []);
    const { done } = run({ talk, open });
    const failed = expect(done).rejects.toMatchObject({ code: 'INTERNAL' });
    await new Promise(setImmediate);
    port.events?.closed();
    await failed;
  });

  it('a port that cannot be opened is told as it is', async () => {
    const open: OpenLink = async () => {
      throw new Fault('PORT_BUSY', 'busy', 'close it');
    };
    await expect(run({ talk: scripted(() => []).talk, open }).done).rejects.toMatchObject({ code: 'PORT_BUSY' });
  });
});
