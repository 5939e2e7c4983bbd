/**
 * Captures of an invented TLP/1 meter of Port Alder, written from the protocol page alone: what a dock would have
 * recorded when the meter was read at a given moment. Seeded where anything is drawn.
 */
import type { Capture, CaptureChunk } from '../../src/core/capture.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { numbersFrom } from '../support/numbers.ts';
import { slowCrc, tlpLine } from '../support/tiny-tlp.ts';

/** One test in the meter's memory. */
export interface ToldTest {
  /** Stamp as the meter gives it. */
  readonly stamp: string;
  readonly inr: string;
  /** What was measured in place of an INR, in the words of the record: `a=GLU v=6.1 u=mmol/L`. */
  readonly measured?: string;
  /** Running number, for meters that have one. */
  readonly run?: number;
  /** `p` (else) a patient test, `c` a control test. */
  readonly kind?: 'p' | 'c';
  /** Further keys of the record, such as `pid=ALDER-017`; the strip lot is 1200003 unless `lot=` stands here. */
  readonly more?: string;
}

export interface Visit {
  readonly at: Instant;
  /** What the memory holds, oldest first. */
  readonly tests: readonly ToldTest[];
  readonly id?: string;
  readonly capacity?: number;
  /** The cable is pulled after this many results; the capture then has no closing time. */
  readonly cutAfter?: number;
  readonly port?: string;
  /** The meter's clock minus true time; 0 unless given. */
  readonly clockOffMs?: number;
}

/** Milliseconds between two lines on the wire. */
const LINE_MS = 60;

/** The wall time in Lisbon in winter is UTC, which keeps these stories easy to follow. */
export const stampAt = (at: number): string => new Date(at).toISOString().slice(0, 19);

/** What the dock recorded at a visit. Slot 1 is the newest. */
export function captureOf(visit: Visit): Capture {
  const { at, tests, id = 'PA00042', capacity = 200, port = 'tcp://dock.example:4001' } = visit;
  let now: number = at;
  const chunks: CaptureChunk[] = [];
  const say = (dir: 'in' | 'out', body: string): void => {
    now += LINE_MS;
    chunks.push({ at: instant(now), dir, data: new TextEncoder().encode(tlpLine(body)) });
  };
  say('out', 'HELLO v=1');
  say(
    'in',
    `METER v=1 id=${id} model=GM-10 fw=1.0 cap=${capacity} held=${tests.length} order=newest clock=${stampAt(now + (visit.clockOffMs ?? 0))}`,
  );
  say('out', 'READ');
  const bodies = [...tests]
    .reverse()
    .map(({ stamp, inr, run, kind = 'p', more = '', measured = `a=INR v=${inr} u={INR}` }, i) => {
      const number = run === undefined ? '' : ` n=${run}`;
      const lot = more.includes('lot=') ? '' : ' lot=1200003';
      return `REC i=${i + 1}${number} t=${stamp} k=${kind} ${measured}${lot}${more && ` ${more}`}`;
    });
  const header = { port, profile: 'tlp-generic', zone: 'Europe/Lisbon', openedAt: at };
  for (const body of bodies.slice(0, visit.cutAfter ?? bodies.length)) say('in', body);
  if (visit.cutAfter !== undefined) return { ...header, chunks };
  say('in', `END n=${bodies.length} x=${slowCrc(bodies.map((body) => `${body}\n`).join(''))}`);
  say('out', 'BYE');
  say('in', 'BYE');
  return { ...header, chunks, closedAt: instant(now + LINE_MS) };
}

/** A meter's life: the captures of its visits in the order of their times, and the tests that were told in them. */
export interface ToldLife {
  readonly captures: readonly Capture[];
  /** Every test that some visit told, oldest first. */
  readonly told: readonly ToldTest[];
}

const DAY = 86_400_000;

/**
 * A life of `visits` visits, one to nine days apart, with a test a day at most, a memory of 12, and now and then a
 * cable that is pulled (unless `cuts` is false). Between two visits fewer tests are made than the memory holds.
 */
export function lifeOf(
  seed: number,
  visits: number,
  options: { readonly runs: boolean; readonly id?: string; readonly cuts?: boolean },
): ToldLife {
  const chance = numbersFrom(seed);
  const capacity = 12;
  const made: ToldTest[] = [];
  const told = new Set<ToldTest>();
  const captures: Capture[] = [];
  let at = Date.UTC(2026, 0, 5, 9, 0, 0);
  for (let v = 0; v < visits; v++) {
    const days = 1 + Math.floor(chance() * 9);
    for (let d = 0; d < days; d++) {
      at += DAY;
      if (chance() < 0.3) continue;
      const stamp = stampAt(at - Math.floor(chance() * 3_600_000));
      const inr = (1.5 + Math.floor(chance() * 30) / 10).toFixed(1);
      made.push({ stamp, inr, ...(options.runs ? { run: made.length + 1 } : {}) });
    }
    const tests = made.slice(-capacity);
    const isCut = chance() < 0.25 && v < visits - 1 && options.cuts !== false;
    const cutAfter = isCut ? Math.floor(chance() * tests.length) : undefined;
    const newestFirst = [...tests].reverse().slice(0, cutAfter ?? tests.length);
    for (const test of newestFirst) told.add(test);
    captures.push(
      captureOf({
        at: instant(at + 7_200_000),
        tests,
        capacity,
        ...(options.id === undefined ? {} : { id: options.id }),
        ...(cutAfter === undefined ? {} : { cutAfter }),
      }),
    );
  }
  return { captures, told: made.filter((test) => told.has(test)) };
}

/** The same things in another order. */
export function shuffled<T>(things: readonly T[], seed: number): T[] {
  const chance = numbersFrom(seed);
  const out = [...things];
  for (let i = out.length - 1; i > 0; i--) {
    const j = Math.floor(chance() * (i + 1));
    [out[i], out[j]] = [out[j] as T, out[i] as T];
  }
  return out;
}
