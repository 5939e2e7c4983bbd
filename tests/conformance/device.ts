/**
 * A meter at the end of a cable, as far as the kit can tell: what happens goes in, what it says comes out. The virtual
 * meter's pure core is one; a break is a small wrapper around another.
 */
import { type Instant, instant } from '../../src/core/instant.ts';
import type { VirtualMeter } from '../../src/virtual/meter.ts';
import type { Speaker } from '../../src/virtual/speaker.ts';

/** What happens to a meter. `at`: milliseconds of true time. */
export type Happening =
  | { readonly kind: 'opened'; readonly at: number }
  | { readonly kind: 'bytes'; readonly at: number; readonly text: string }
  | { readonly kind: 'wake'; readonly at: number };

/** Bytes (one a character) that leave at a moment or later, after those said before. */
export interface Said {
  readonly from: number;
  readonly text: string;
}

/** What a meter says, and when it wants to be woken; absent: not at all. */
export interface Reaction {
  readonly says: readonly Said[];
  readonly wakeAt?: number;
}

/** Something that behaves like a meter. */
export type Device = (happening: Happening) => Reaction;

/** The virtual meter as a device. */
export function deviceOf<S extends { readonly meter: VirtualMeter }>(speaker: Speaker<S>, meter: VirtualMeter): Device {
  let state = speaker.begin(meter);
  return (happening) => {
    const at: Instant = instant(happening.at);
    const step = speaker.step(
      state,
      happening.kind === 'bytes'
        ? { kind: 'bytes', at, data: Buffer.from(happening.text, 'latin1') }
        : { kind: happening.kind, at },
    );
    state = step.state;
    const says = step.sends.map(({ from, data }) => ({ from, text: Buffer.from(data).toString('latin1') }));
    return step.wakeAt === undefined ? { says } : { says, wakeAt: step.wakeAt };
  };
}
