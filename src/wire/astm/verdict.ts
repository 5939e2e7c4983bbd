/** How an E1394 conversation went, in words that a nurse can act on. Judged by decoding what was heard, and nothing else. */
import type { Capture, CaptureChunk } from '../../core/capture.ts';
import type { Download } from '../../core/download.ts';
import type { FaultCode } from '../../core/fault.ts';
import type { MeterProfile } from '../profile.ts';
import type { TalkOutcome } from '../talk.ts';
import { decodeAstm } from './decode.ts';
import type { AstmState, Heard } from './talk-state.ts';

/** The downloads in what was heard so far. */
export function downloadsSoFar(state: AstmState, profile: MeterProfile): Download[] {
  const chunks: CaptureChunk[] = [];
  for (let heard: Heard | undefined = state.heard; heard; heard = heard.before) chunks.push(heard.chunk);
  const capture: Capture = {
    port: '',
    profile: profile.name,
    zone: '',
    openedAt: state.openedAt,
    chunks: chunks.reverse(),
  };
  return decodeAstm(capture, profile);
}

/** Why a conversation ends before its time; `over`: it ran its course, so that the bytes alone tell. */
export type EndReason = 'over' | 'silence' | 'refused' | 'stopped' | 'closed' | 'endless';

/** The outcome of a conversation that ends now. */
export function judge(state: AstmState, profile: MeterProfile, why: EndReason): TalkOutcome {
  const downloads = downloadsSoFar(state, profile);
  const complete = downloads.length > 0 && downloads.every((download) => download.complete);
  const trouble = (code: FaultCode, message: string, hint: string): TalkOutcome => ({
    complete,
    clockSet: false,
    trouble: { code, message, hint },
  });
  if (why === 'endless')
    return trouble(
      'METER_ENDLESS',
      `The meter does not stop sending: ${state.bytesIn} bytes came and no end`,
      'Switch the meter off and on and send again; if it happens again, check that the profile fits this meter.',
    );
  if (complete) return { complete, clockSet: false };
  const [cut] = downloads.filter((download) => !download.complete);
  if (cut) {
    const count = cut.image.filter((item) => item.kind === 'test').length;
    const what = `${cut.meter.model} ${cut.meter.id}`.trim();
    return trouble(
      'DOWNLOAD_CUT',
      `The download from ${what} ${CUT_WORDS[cut.cut ?? 'cut-off'] ?? 'broke off'}; ${count} ${count === 1 ? 'test was' : 'tests were'} read and ${count === 1 ? 'is' : 'are'} kept`,
      'Connect the meter and send again: what is already here is not counted twice.',
    );
  }
  if (why === 'stopped')
    return trouble(
      'DOWNLOAD_CUT',
      'Stopped before the meter had sent anything',
      'Start again when the meter is ready.',
    );
  if (why === 'refused')
    return trouble(
      'METER_REFUSED',
      'The meter did not take the question for its results',
      'Check that the meter is ready to be read and that its profile may ask (query).',
    );
  if (state.isTaken)
    return trouble(
      'METER_REFUSED',
      'The meter took the question for its results and then sent nothing',
      'Look at what it shows and start sending its results on it; if that works, its profile should not ask (query).',
    );
  if (state.framesIn > 0)
    return trouble(
      'METER_GARBLED',
      'The meter sent results but not its serial number, so they cannot be told from another meter’s',
      'Check that the profile names the field with the serial number (fields.meterId).',
    );
  if (state.bytesIn > 0)
    return trouble(
      'METER_GARBLED',
      `${state.bytesIn} bytes came, but none of them made sense`,
      'Check the speed of the port (--baud) and that the profile fits this meter.',
    );
  return trouble(
    'METER_SILENT',
    profile.query ? 'The meter did not answer' : 'The meter sent nothing',
    'Check the cable, switch the meter on and start sending its results on it, then try again.',
  );
}

const CUT_WORDS: Readonly<Record<string, string>> = {
  'cut-off': 'broke off before its end',
  aborted: 'was given up by the meter',
  refused: 'was refused by the meter',
  damaged: 'holds a record that makes no sense',
  'count-differs': 'has missing tests',
};
