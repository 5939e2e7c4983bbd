/**
 * Masks a capture: patient ids and operators become pseudonyms of the same length, with every check made anew, so that
 * the masked capture decodes to the same readings but for those two facts. Times, cuts between chunks and what the
 * gateway sent stay. What the meter says under keys or in fields that the gateway does not know stays as well, but for
 * the rest of a P record.
 */
import type { Capture } from '../core/capture.ts';
import { parseBody } from '../wire/line/codec.ts';
import { rangeAsked } from '../wire/line/decode.ts';
import { createLineDecoder } from '../wire/line/decoder.ts';
import type { MeterProfile } from '../wire/profile.ts';
import { maskAstm } from './mask-astm.ts';
import { type HostRead, maskLine } from './mask-line.ts';
import type { Pseudonyms } from './pseudonyms.ts';

/** The capture with pseudonyms for people. */
export function maskCapture(capture: Capture, profile: MeterProfile, pseudonyms: Pseudonyms): Capture {
  const heard = Buffer.concat(capture.chunks.filter(({ dir }) => dir === 'in').map(({ data }) => data));
  const masked =
    profile.protocol === 'astm' ? maskAstm(heard, profile, pseudonyms) : maskLine(heard, readsIn(capture), pseudonyms);
  let from = 0;
  const chunks = capture.chunks.map((chunk) => {
    if (chunk.dir === 'out') return chunk;
    const data = masked.slice(from, from + chunk.data.length);
    from += chunk.data.length;
    return { ...chunk, data };
  });
  return { ...capture, chunks };
}

/** What the host asked of the memory, and behind how many bytes of the meter. */
function readsIn({ chunks }: Capture): HostRead[] {
  const host = createLineDecoder();
  const reads: HostRead[] = [];
  let behind = 0;
  for (const { dir, data } of chunks) {
    if (dir === 'in') {
      behind += data.length;
      continue;
    }
    for (const frame of host.push(data)) {
      const body = frame.kind === 'line' ? parseBody(frame.body) : undefined;
      if (!body?.ok || body.value.verb !== 'READ') continue;
      reads.push({ behind, range: rangeAsked(body.value.fields) });
    }
  }
  return reads;
}
