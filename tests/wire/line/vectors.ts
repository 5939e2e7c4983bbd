/** The published vectors of protocols/line/, checked and with their bytes made ready. */
import { readFileSync } from 'node:fs';
import { z } from 'zod';

const Vectors = z.strictObject({
  protocol: z.literal('TLP/1'),
  note: z.string(),
  lines: z.array(
    z.strictObject({ name: z.string(), bytes: z.string(), verb: z.string(), fields: z.record(z.string(), z.string()) }),
  ),
  badLines: z.array(
    z.strictObject({ name: z.string(), bytes: z.string(), reason: z.enum(['damaged', 'noise', 'too-long', 'form']) }),
  ),
  streams: z.array(z.strictObject({ name: z.string(), bytes: z.string(), frames: z.array(z.string()) })),
  messages: z.array(
    z.strictObject({ name: z.string(), bytes: z.string(), ok: z.boolean(), flags: z.array(z.string()).optional() }),
  ),
  conversations: z.array(z.strictObject({ name: z.string(), note: z.string(), lines: z.array(z.string()) })),
});

export const vectors = Vectors.parse(
  JSON.parse(readFileSync(new URL('../../../protocols/line/vectors.json', import.meta.url), 'utf8')),
);

/** Bytes of a text of one character a byte. */
export const bytesOf = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));

/** The lines of one conversation with who says them; each with CR LF. */
export function conversation(name: string): { readonly from: 'host' | 'meter'; readonly bytes: Uint8Array }[] {
  const found = vectors.conversations.find((c) => c.name === name);
  if (!found) throw new Error(`no conversation "${name}"`);
  return found.lines.map((line) => ({
    from: line.startsWith('> ') ? 'host' : 'meter',
    bytes: bytesOf(`${line.slice(2)}\r\n`),
  }));
}
