/**
 * One visit of a meter to a dock, played by a small host of its own that only does what the protocol pages say: the
 * capture of it, the meter afterwards, and the truth about what was told. Pure; shares no code with the gateway's
 * conversations.
 */
import type { Capture } from '../core/capture.ts';
import { type Instant, instant } from '../core/instant.ts';
import { formatWall, parseMeterTime } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import { ACK, EOT, ETX } from '../wire/astm/link-bytes.ts';
import { frameBody } from '../wire/line/codec.ts';
import { type Cable, type CableOptions, layCable } from './cable.ts';
import type { Chance } from './chance.ts';
import type { VirtualMeter } from './meter.ts';
import { ASTM_HABITS, astmSpeaker } from './speak-astm.ts';
import { LINE_HABITS, lineSpeaker } from './speak-line.ts';

/** How the host of a visit behaves. */
export interface Dock {
  readonly port: string;
  readonly zone: Zone;
  readonly protocol: 'line' | 'astm';
  /** Whether it puts the meter's clock right after a whole download (TLP/1 only). */
  readonly setsClock: 'never' | 'when-off' | 'always';
}

/** What came of a visit. */
export interface Visited {
  readonly capture: Capture;
  readonly meter: VirtualMeter;
  /** True where the whole memory was told with its proof. */
  readonly isComplete: boolean;
  /** Tests told whole, by `made`. */
  readonly told: ReadonlySet<number>;
  /** The test in whose telling the cable was pulled: perhaps its values came, perhaps not. */
  readonly broken?: number;
  readonly bytesFromMeter: number;
}

/** A meter is off by more than this: `when-off` sets it. */
const OFF_MS = 60_000;
const LETTER_L = 0x4c;

/** Lets a meter visit a dock at `at`. */
export function visit(meter: VirtualMeter, dock: Dock, at: Instant, cable: CableOptions, chance: Chance): Visited {
  return dock.protocol === 'line'
    ? visitLine(meter, dock, at, cable, chance)
    : visitAstm(meter, dock, at, cable, chance);
}

function visitLine(meter: VirtualMeter, dock: Dock, at: Instant, options: CableOptions, chance: Chance): Visited {
  const speaker = lineSpeaker({ ...LINE_HABITS, sleepsThrough: chance.happens(0.2) ? chance.whole(1, 3) : 0 });
  const cable = layCable(speaker, speaker.begin(meter), at, options, chance);
  cable.feed({ kind: 'opened', at });
  const say = (body: string): readonly Uint8Array[] => cable.ask(frameBody(body));
  let greeting: Uint8Array | undefined;
  for (let tries = 0; tries < 5 && !greeting; tries++) {
    greeting = say('HELLO v=1')[0];
    if (!greeting) cable.pass(1000);
  }
  let isComplete = false;
  if (greeting && !cable.isPulled()) {
    const proof = textOf(say('READ').at(-1));
    isComplete = proof.startsWith('END ') && proof.endsWith('\n');
    if (isComplete && !cable.isPulled() && setsNow(dock, textOf(greeting), cable.now())) {
      say(`SET t=${formatWall(dock.zone.wallAt(cable.now()))}`);
    }
  }
  // A host that lost its meter asks again before it gives up; nothing can answer.
  for (let tries = chance.whole(0, 3); cable.isPulled() && tries > 0; tries--) {
    cable.pass(2000);
    say('HELLO v=1');
  }
  if (!cable.isPulled()) say('BYE');
  return visited(dock, 'tlp-generic', at, cable, isComplete, chance);
}

const textOf = (bytes: Uint8Array = new Uint8Array(0)): string => Buffer.from(bytes).toString('latin1');

function setsNow(dock: Dock, greeting: string, now: Instant): boolean {
  if (dock.setsClock !== 'when-off') return dock.setsClock === 'always';
  const shown = parseMeterTime(/ clock=([^*\s]+)/.exec(greeting)?.[1] ?? '');
  return !shown.ok || Math.abs(shown.value.wall - dock.zone.wallAt(now)) > OFF_MS;
}

function visitAstm(meter: VirtualMeter, dock: Dock, at: Instant, options: CableOptions, chance: Chance): Visited {
  const speaker = astmSpeaker(ASTM_HABITS);
  const cable = layCable(speaker, speaker.begin(meter), at, options, chance);
  cable.pass(chance.between(100, 3000));
  let [said] = cable.feed({ kind: 'opened', at: cable.now() });
  let isComplete = false;
  while (said && said[0] !== EOT) {
    // The last frame (STX, number, record L) counts where both digits of its sum came, whether or not the cable held
    // until its line end or EOT.
    const end = said.indexOf(ETX);
    isComplete ||= said[2] === LETTER_L && end !== -1 && said.length > end + 2;
    cable.pass(chance.between(0.3, 2));
    [said] = cable.isPulled() ? [] : cable.ask(Uint8Array.of(ACK));
  }
  return visited(dock, `astm-generic-${meter.memory.order}`, at, cable, isComplete, chance);
}

function visited(
  dock: Dock,
  profile: string,
  openedAt: Instant,
  cable: Cable<{ readonly meter: VirtualMeter }>,
  isComplete: boolean,
  chance: Chance,
): Visited {
  if (cable.isPulled()) cable.pass(chance.between(0, 6000));
  // Now and then the program dies with the conversation.
  const diedEarly = cable.isPulled() && chance.happens(0.15);
  const broken = cable.broken();
  return {
    capture: {
      port: dock.port,
      profile,
      zone: dock.zone.name,
      openedAt,
      chunks: cable.chunks,
      ...(diedEarly ? {} : { closedAt: instant(Math.ceil(cable.now())) }),
    },
    meter: cable.state().meter,
    isComplete,
    told: cable.told,
    ...(broken === undefined ? {} : { broken }),
    bytesFromMeter: cable.fromMeter(),
  };
}
