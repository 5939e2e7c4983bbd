/**
 * From a capture to the downloads in it, whatever the protocol: one download for each meter that spoke. A pure
 * function of the capture's lines and the profile; it never depends on what the present code would have sent.
 */
import type { Capture } from '../core/capture.ts';
import type { Download } from '../core/download.ts';
import { instant } from '../core/instant.ts';
import { decodeAstm } from './astm/decode.ts';
import { decodeLine } from './line/decode.ts';
import type { MeterProfile } from './profile.ts';

/** The downloads that a capture holds, in the order in which their meters first spoke; none where no meter named itself. */
export function decodeCapture(capture: Capture, profile: MeterProfile): Download[] {
  const downloads = profile.protocol === 'astm' ? decodeAstm(capture, profile) : decodeLine(capture, profile);
  const { clockStepS } = capture;
  return clockStepS === undefined ? downloads : downloads.map((download) => widened(download, clockStepS));
}

/**
 * A download whose true times may lie that much to either side: the PC's clock was changed meanwhile, and nobody knows
 * whether it was right before or after. What rests on them is widened; how long things took is known as before.
 */
function widened(download: Download, clockStepS: number): Download {
  const by = Math.ceil(Math.abs(clockStepS) * 1000);
  return {
    ...download,
    until: instant(download.until + by),
    clock: download.clock.map((event) => ({
      ...event,
      from: instant(event.from - by),
      to: instant(event.to + by),
    })),
  };
}
