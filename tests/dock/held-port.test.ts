/** A port that stays open between conversations. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { holdPort } from '../../src/dock/held-port.ts';
import { LINK_DEFAULTS, type LinkEvents, type OpenLink } from '../../src/wire/transport/link.ts';
import { listener } from '../wire/transport/listener.ts';

/** A port that tells what is done to it, and through which bytes can come. */
function fakePort() {
  const did: string[] = [];
  let events: LinkEvents | undefined;
  let finish = (): void => {};
  let isSlow = false;
  const open: OpenLink = async (port, _settings, given) => {
    did.push(`open ${port}`);
    events = given;
    if (isSlow)
      await new Promise<void>((resolve) => {
        finish = resolve;
      });
    return {
      port,
      write: async (data) => void did.push(`write ${Buffer.from(data).toString()}`),
      close: async () => void did.push('close'),
    };
  };
  return {
    open,
    did,
    says: (text: string) => events?.data(Buffer.from(text)),
    dies: () => events?.closed(new Fault('PORT_LOST', 'gone', 'Plug it in.')),
    slow: () => {
      isSlow = true;
    },
    finish: () => finish(),
  };
}

function held() {
  const port = fakePort();
  const heard: string[] = [];
  const hold = holdPort(port.open, {
    heard: () => heard.push('bytes'),
    lost: (fault) => heard.push(fault.code),
  });
  return { ...port, heard, hold };
}

describe('a held port', () => {
  it('is opened once for many conversations, and what comes between two of them reaches the next', async () => {
    const { hold, did, says, heard } = held();
    await hold.open('P', LINK_DEFAULTS);
    const first = listener();
    const link = await hold.lend('P', LINK_DEFAULTS, first.events);
    says('one');
    await link.write(Buffer.from('x'));
    await link.close();
    expect(first.closings).toEqual([undefined]);
    says('two');
    expect(heard).toEqual(['bytes']);
    const second = listener();
    await hold.lend('P', LINK_DEFAULTS, second.events);
    says('three');
    expect(first.text()).toBe('one');
    expect(second.text()).toBe('twothree');
    expect(did).toEqual(['open P', 'write x']);
    await hold.close();
    expect(second.closings).toEqual([undefined]);
    expect(did.at(-1)).toBe('close');
    expect(hold.isOpen).toBe(false);
  });

  it('keeps only so much of what nobody listens to', async () => {
    const { hold, says } = held();
    await hold.open('P', LINK_DEFAULTS);
    for (let i = 0; i < 100; i++) says('x'.repeat(10_000));
    const next = listener();
    await hold.lend('P', LINK_DEFAULTS, next.events);
    expect(next.text().length).toBeLessThanOrEqual(65_536);
    expect(next.text().length).toBeGreaterThan(50_000);
  });

  it('that is lost tells the conversation and its owner, each once', async () => {
    const { hold, dies, heard } = held();
    await hold.open('P', LINK_DEFAULTS);
    const one = listener();
    await hold.lend('P', LINK_DEFAULTS, one.events);
    dies();
    expect(one.closings).toMatchObject([{ code: 'PORT_LOST' }]);
    expect(heard).toEqual(['PORT_LOST']);
    await expect(hold.lend('P', LINK_DEFAULTS, listener().events)).rejects.toMatchObject({ code: 'PORT_LOST' });
  });

  it('that is closed while it opens is given back when it opens after all', async () => {
    const { hold, did, slow, finish } = held();
    slow();
    const opening = hold.open('P', LINK_DEFAULTS);
    await hold.close();
    finish();
    await expect(opening).rejects.toMatchObject({ code: 'PORT_LOST' });
    expect(did).toEqual(['open P', 'close']);
    expect(hold.isOpen).toBe(false);
  });

  it('that dies while it opens is not open', async () => {
    const { hold, slow, finish, dies } = held();
    slow();
    const opening = hold.open('P', LINK_DEFAULTS);
    dies();
    finish();
    await expect(opening).rejects.toMatchObject({ code: 'PORT_LOST' });
    expect(hold.isOpen).toBe(false);
  });
});
