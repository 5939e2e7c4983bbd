/**
 * From a capture to the downloads in it, whatever the protocol: one download for each meter that spoke. A pure
 * function of the capture's lines and the profile; it never depends on what the present code would have sent.
 */
import type { Capture } from '../core/capture.ts';
import type { Download } from '../core/download.ts';
import { decodeAstm } from './astm/decode.ts';
import { decodeLine } from './line/decode.ts';
import type { MeterProfile } from './profile.ts';

/** The downloads that a capture holds, in the order in which their meters first spoke; none where no meter named itself. */
export function decodeCapture(capture: Capture, profile: MeterProfile): Download[] {
  return profile.protocol === 'astm' ? decodeAstm(capture, profile) : decodeLine(capture, profile);
}
