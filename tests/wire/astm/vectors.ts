/** The published vectors of protocols/astm, checked on reading. */
import { readFileSync } from 'node:fs';
import { z } from 'zod';
import type { LinkEvent } from '../../../src/wire/astm/link-frames.ts';

const Bytes = z.string().transform((text) => new Uint8Array(Buffer.from(text, 'latin1')));

const Vectors = z.strictObject({
  about: z.string(),
  frames: z
    .array(
      z.strictObject({
        name: z.string(),
        bytes: Bytes,
        events: z.array(z.looseObject({ kind: z.enum(['frame', 'bad-frame', 'control', 'noise']) })),
      }),
    )
    .min(20),
  messages: z
    .array(
      z.strictObject({
        name: z.string(),
        profile: z.string(),
        bytes: Bytes,
        meter: z.strictObject({ id: z.string(), model: z.string() }).nullable(),
        complete: z.boolean().optional(),
        cut: z.string().optional(),
        image: z.array(z.union([z.literal('hole'), z.looseObject({ slot: z.int() })])).optional(),
      }),
    )
    .min(15),
});

export const vectors = Vectors.parse(
  JSON.parse(readFileSync(new URL('../../../protocols/astm/vectors.json', import.meta.url), 'utf8')),
);

/** Events with noise that stands together made one, and its amount left out: chunk borders may split noise. */
export function withoutAmounts(events: readonly LinkEvent[]): unknown[] {
  const out: unknown[] = [];
  for (const event of events) {
    if (event.kind !== 'noise') out.push(event);
    else if ((out.at(-1) as LinkEvent | undefined)?.kind !== 'noise') out.push({ kind: 'noise' });
  }
  return out;
}
