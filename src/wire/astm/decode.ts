/**
 * From a capture to the downloads in it, by E1381 and E1394 and a meter profile. A pure function of the capture's
 * lines: the same bytes always give the same downloads, whoever received them.
 */
import type { Capture } from '../../core/capture.ts';
import { type ClockEvent, type Download, type MeterKey, meterKey } from '../../core/download.ts';
import { type Instant, instant } from '../../core/instant.ts';
import type { MeterProfile } from '../profile.ts';
import { assembleImage } from './image.ts';
import { type Message, readMessages } from './messages.ts';
import { readTransfers, type Transfer } from './transfers.ts';

/** A header is stamped no earlier than this before the ENQ of its transfer (astm-generic profiles). */
const STAMP_BEFORE_ENQ_MS = 5000;

/** One transfer of one meter: its messages and the chunks that it took. */
interface Part {
  readonly transfer: Transfer;
  readonly messages: readonly Message[];
  readonly firstChunk: number;
  readonly endChunk: number;
}

/** The downloads of a capture, one for each meter that named itself, in the order in which they first did. */
export function decodeAstm(capture: Capture, profile: MeterProfile): Download[] {
  const meters = new Map<MeterKey, Part[]>();
  const transfers = readTransfers(capture.chunks);
  for (const [i, transfer] of transfers.entries()) {
    const endChunk = transfers[i + 1]?.firstChunk ?? capture.chunks.length;
    const byMeter = new Map<MeterKey, Message[]>();
    for (const message of readMessages(transfer, profile)) {
      const key = meterKey(message.meter);
      byMeter.set(key, [...(byMeter.get(key) ?? []), message]);
    }
    for (const [key, messages] of byMeter) {
      const firstChunk = i === 0 && profile.query ? 0 : transfer.firstChunk;
      meters.set(key, [...(meters.get(key) ?? []), { transfer, messages, firstChunk, endChunk }]);
    }
  }
  return [...meters.values()].map((parts) => toDownload(capture, profile, parts));
}

function toDownload(capture: Capture, profile: MeterProfile, parts: readonly Part[]): Download {
  const messages = parts.flatMap((part) => part.messages);
  const [{ meter }] = messages as [Message, ...Message[]];
  const { image, complete, cut, held } = assembleImage(messages, profile);
  const clock: ClockEvent[] = parts.flatMap(({ transfer, messages }) => messages.flatMap((m) => anchorOf(transfer, m)));
  const { chunks } = capture;
  let bytes = 0;
  for (const { firstChunk, endChunk } of parts)
    for (let i = firstChunk; i < endChunk; i++) bytes += chunks[i]?.data.length ?? 0;
  const at = chunks[parts[0]?.firstChunk ?? 0]?.at ?? capture.openedAt;
  const until = chunks[(parts.at(-1)?.endChunk ?? 0) - 1]?.at ?? at;
  const { capacity, order } = profile.memory;
  return {
    meter,
    protocol: 'astm',
    profile: profile.name,
    zone: capture.zone,
    port: capture.port,
    at,
    until,
    order: order ?? 'newest',
    ...(capacity === undefined ? {} : { capacity }),
    ...(held === undefined ? {} : { held }),
    complete,
    ...(cut === undefined ? {} : { cut }),
    image,
    fresh: [],
    clock,
    stats: {
      bytes,
      damagedLines: parts.reduce((sum, { transfer }) => sum + transfer.damaged, 0),
      retries: parts.reduce((sum, { transfer }) => sum + transfer.refused, 0),
      durationMs: until - at,
    },
  };
}

/** What a header proves about the meter's clock. */
function anchorOf(transfer: Transfer, message: Message): ClockEvent[] {
  if (!message.clock) return [];
  const from: Instant = instant(transfer.enqAt - STAMP_BEFORE_ENQ_MS);
  return [{ kind: 'anchor', shown: message.clock, from, to: message.headerAt }];
}
