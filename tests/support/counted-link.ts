/** A link to a virtual meter inside the test's own process that counts what the meter has sent and keeps what it was sent. */
import type { VirtualPort } from '../../src/virtual/port.ts';
import type { OpenLink } from '../../src/wire/transport/link.ts';

export interface CountedLink {
  readonly open: OpenLink;
  /** How many pieces the meter has sent so far. */
  heard(): number;
  /** The first four letters of everything that was sent to the meter. */
  readonly sent: readonly string[];
}

/** Opens the port of a virtual meter. */
export function countedLink(port: VirtualPort): CountedLink {
  const sent: string[] = [];
  let heard = 0;
  return {
    heard: () => heard,
    sent,
    open: async (name, _settings, events) => {
      let isOpen = true;
      port.open({
        write(data) {
          setImmediate(() => {
            heard++;
            if (isOpen) events.data(data);
          });
        },
        isFull: () => false,
        pull: () => {},
      });
      return {
        port: name,
        write: async (data) => {
          sent.push(Buffer.from(data).toString('latin1').slice(0, 4));
          port.receive(data);
        },
        close: async () => {
          isOpen = false;
          port.shut();
        },
      };
    },
  };
}
