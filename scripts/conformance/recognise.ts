/**
 * Finds out which protocol a meter speaks where nobody says it. Only what carries a right sum counts: a line of TLP/1
 * with its check digits, or a frame of E1381. Noise of neither kind is no meter.
 */
import type { AstmHost, Heard } from './astm/host.ts';
import { lineOf, readLine } from './line/read-line.ts';
import type { ProtocolName } from './report.ts';

const HELLOS = 5;

/** Whether there is a whole line of TLP/1 among some bytes. */
const hasLine = (bytes: string): boolean =>
  bytes.split('\n').some((part) => readLine(`${part}\n`, 0, 0, true)?.faults.length === 0);

/** Calls as a host of TLP/1 would, then waits for what a meter of E1381 would say. Undefined where it was neither. */
export async function recognise(host: AstmHost): Promise<ProtocolName | undefined> {
  const { timing } = host;
  const isCalling = (things: readonly Heard[]): boolean =>
    things.some(({ kind, bytes }) => kind === 'control' && bytes === '\x05');
  let came = await host.listen(timing.hushMs);
  for (let tries = 0; tries < HELLOS && !isCalling(came); tries++) {
    // To a meter of E1381 that calls or rests these are bytes without a meaning.
    await host.say(lineOf('HELLO v=1'));
    came = await host.listen(timing.helloMs);
    if (hasLine(came.map(({ bytes }) => bytes).join(''))) return 'tlp';
  }
  const { sendings } = await host.firstTransfer();
  return sendings.some(({ frame }) => frame.faults.length === 0) ? 'astm' : undefined;
}
