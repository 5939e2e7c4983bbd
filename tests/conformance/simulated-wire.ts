/** A wire to a device in which no time passes but the one that the kit waits: hours cost nothing, and nothing is late. */
import type { Chunk, Wire } from '../../scripts/conformance/wire.ts';
import type { Device, Happening, Said } from './device.ts';

/** A wire to a device; its time begins at `from`. */
export function simulatedWire(device: Device, from: number): Wire {
  let now = from;
  let waiting: Said[] = [];
  let wakeAt: number | undefined;

  const feed = (happening: Happening): void => {
    const reaction = device(happening);
    waiting.push(...reaction.says);
    wakeAt = reaction.wakeAt;
  };
  /** What has been said by now, oldest first, as one chunk. */
  const heard = (): Chunk | undefined => {
    let text = '';
    while (waiting[0] && waiting[0].from <= now) text += waiting.shift()?.text ?? '';
    return text === '' ? undefined : { data: Buffer.from(text, 'latin1'), at: now };
  };
  return {
    now: () => now,
    async open() {
      waiting = [];
      feed({ kind: 'opened', at: now });
    },
    async send(data) {
      feed({ kind: 'bytes', at: now, text: Buffer.from(data).toString('latin1') });
    },
    async hear(withinMs) {
      const until = now + withinMs;
      for (;;) {
        const chunk = heard();
        if (chunk) return chunk;
        const next = Math.min(waiting[0]?.from ?? Number.POSITIVE_INFINITY, wakeAt ?? Number.POSITIVE_INFINITY);
        if (next > until) break;
        now = Math.max(now, next);
        if (wakeAt !== undefined && wakeAt <= now) feed({ kind: 'wake', at: now });
      }
      now = until;
      return undefined;
    },
    async close() {},
  };
}
