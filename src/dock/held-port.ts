/**
 * A port that stays open from one conversation to the next: opened once, lent to one conversation at a time. What
 * comes between two conversations is kept for the next one.
 */
import { Fault } from '../core/fault.ts';
import type { Link, LinkEvents, LinkSettings, OpenLink } from '../wire/transport/link.ts';
import { lostFault } from '../wire/transport/port-errors.ts';

export interface HeldPort {
  /** Opens it. Rejects as `OpenLink` does. */
  open(port: string, settings: LinkSettings): Promise<void>;
  readonly isOpen: boolean;
  /** Opens nothing: hands the open port to a conversation, whose closing gives it back. Rejects with PORT_LOST. */
  readonly lend: OpenLink;
  /** Forgets what came while nobody listened. */
  forget(): void;
  /** Closes it. Never rejects. */
  close(): Promise<void>;
}

/** What its owner hears while no conversation has it. */
export interface HeldPortEvents {
  heard(): void;
  lost(fault: Fault): void;
}

/** The most that is kept between two conversations; what is older is dropped. */
const MAX_KEPT = 65_536;

/** A port that is not open yet. */
export function holdPort(open: OpenLink, owner: HeldPortEvents): HeldPort {
  let link: Link | undefined;
  let borrower: LinkEvents | undefined;
  let kept: Uint8Array[] = [];
  let keptBytes = 0;
  /** Tells an older opening that it is not wanted any more. */
  let opening = 0;

  const forget = (): void => {
    kept = [];
    keptBytes = 0;
  };
  const lose = (fault: Fault): void => {
    link = undefined;
    const to = borrower;
    borrower = undefined;
    to?.closed(fault);
    owner.lost(fault);
  };
  return {
    async open(port, settings) {
      const mine = ++opening;
      forget();
      let isLost: Fault | undefined;
      const made = await open(port, settings, {
        data(chunk) {
          if (mine !== opening) return;
          if (borrower) return borrower.data(chunk);
          kept.push(chunk);
          keptBytes += chunk.length;
          while (keptBytes > MAX_KEPT) keptBytes -= kept.shift()?.length ?? keptBytes;
          if (link) owner.heard();
        },
        closed(fault) {
          isLost = fault ?? lostFault(port);
          if (mine === opening && link) lose(isLost);
        },
      });
      if (mine !== opening) {
        await made.close();
        throw new Fault('PORT_LOST', `Port ${port} was closed while it was being opened`, 'It is tried again.');
      }
      if (isLost) throw isLost;
      link = made;
    },
    get isOpen() {
      return link !== undefined;
    },
    lend: async (port, _settings, events) => {
      const held = link;
      if (!held) throw lostFault(port);
      borrower = events;
      const waiting = kept;
      forget();
      for (const chunk of waiting) events.data(chunk);
      return {
        port,
        write: (data) => held.write(data),
        async close() {
          if (borrower !== events) return;
          borrower = undefined;
          events.closed();
        },
      };
    },
    forget,
    async close() {
      opening++;
      const held = link;
      link = undefined;
      const to = borrower;
      borrower = undefined;
      to?.closed();
      await held?.close();
    },
  };
}
