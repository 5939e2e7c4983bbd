/**
 * The world generator: from a seed the whole life of one meter, as the captures that a gateway would have written at
 * each visit, and the truth beside them. For measuring settling and placing against what really happened. Pure and
 * quick: nothing waits, nothing is opened; the same seed and options give the same bytes.
 */
import type { Capture } from '../core/capture.ts';
import type { MemoryOrder } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import { formatWall, type Wall, wall } from '../core/meter-time.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { CableOptions } from './cable.ts';
import { type Chance, chanceFrom } from './chance.ts';
import { readClock } from './clock.ts';
import { type Course, createCourse } from './course.ts';
import { handSetting } from './hand.ts';
import { type Happening, planLife, type Setting, type World } from './life.ts';
import { deleteAll, deleteOne, emptyMemory, factoryReset, type TestFacts } from './memory.ts';
import { losePower, makeTest, setMeterClock, type VirtualMeter } from './meter.ts';
import { type Dock, visit } from './visit.ts';

/** What to generate. All but seed and world is drawn where it is not given. */
export interface HistoryOptions {
  readonly seed: number;
  readonly world: World;
  /** Default 400. */
  readonly days?: number;
  /** When the meter is first used; default 6 January 2025. */
  readonly from?: Instant;
  /** One person's own meter, or one for many people; drawn: 1 in 100 is shared. */
  readonly use?: 'home' | 'shared';
  readonly protocol?: 'line' | 'astm';
  /** `ring` only with `line`: E1394's generic profiles do not know it. */
  readonly order?: MemoryOrder;
  readonly capacity?: number;
  readonly runNumbers?: boolean;
  readonly lossCounts?: boolean;
  readonly resolutionMs?: 1000 | 60_000;
  readonly zone?: string;
  readonly setsClock?: Dock['setsClock'];
}

/** A test as it really was. */
export interface TrueTest extends TestFacts {
  /** Which test of the meter's life, from 1; tests are listed in this order. */
  readonly made: number;
  readonly at: Instant;
  /** The meter's stamp, as it tells it in TLP/1; `-` where the clock was not set. */
  readonly stamp: string;
  /** Since the last factory reset; told only where the meter tells run numbers. */
  readonly runNumber: number;
  /** Power losses before it. */
  readonly losses: number;
  /** The downloads (by their place in the list) that told it whole. */
  readonly toldIn: readonly number[];
  /** The downloads that broke off while it was told: perhaps some of it came, perhaps nothing. */
  readonly brokenIn: readonly number[];
}

/** A download as it really went; the captures stand in the same order. */
export interface TrueDownload {
  readonly at: Instant;
  readonly isComplete: boolean;
  /** Results in the memory. */
  readonly held: number;
  /** Tests overwritten since the last complete download without ever having been told whole. */
  readonly overwrittenUnread: number;
}

/** Something that was done to the clock. */
export interface TrueClockEvent {
  readonly kind: 'power-loss' | 'hand-setting' | 'gateway-setting';
  readonly at: Instant;
  /** What it showed just before; absent where it was not set. */
  readonly showed?: Wall;
  readonly shows?: Wall;
  /** How a hand set it. */
  readonly how?: Setting;
}

/** Something that was done to the memory. */
export interface TrueDeletion {
  readonly kind: 'delete-one' | 'delete-all' | 'factory-reset';
  readonly at: Instant;
  /** The tests that went, by `made`. */
  readonly gone: readonly number[];
}

export interface History {
  readonly captures: readonly Capture[];
  /** The meter at the end, with everything that it is. */
  readonly meter: VirtualMeter;
  readonly world: World;
  readonly zone: string;
  readonly protocol: 'line' | 'astm';
  readonly tests: readonly TrueTest[];
  readonly downloads: readonly TrueDownload[];
  /** The first is the setting before the first test. */
  readonly clockEvents: readonly TrueClockEvent[];
  readonly deletions: readonly TrueDeletion[];
}

/** Zones from all over: with and without summer time, north and south, half and quarter hours. */
const ZONES = [
  'Europe/Lisbon',
  'Europe/Berlin',
  'Europe/Helsinki',
  'Atlantic/Azores',
  'America/New_York',
  'America/Chicago',
  'America/Los_Angeles',
  'America/St_Johns',
  'America/Sao_Paulo',
  'America/Santiago',
  'Africa/Cairo',
  'Africa/Nairobi',
  'Asia/Kolkata',
  'Asia/Kathmandu',
  'Asia/Tokyo',
  'Asia/Tehran',
  'Australia/Adelaide',
  'Australia/Lord_Howe',
  'Pacific/Auckland',
  'Pacific/Chatham',
  'Pacific/Honolulu',
] as const;

const FIRST_USE = instant(Date.UTC(2025, 0, 6));
const MINUTE_MS = 60_000;

/** Generates one meter's life. */
export function generateHistory(options: HistoryOptions): History {
  const chance = chanceFrom(options.seed);
  const world = options.world;
  const zone = zoneOf(options.zone ?? chance.pick(ZONES));
  const protocol = options.protocol ?? (chance.happens(0.6) ? 'line' : 'astm');
  const use = options.use ?? (chance.happens(0.01) ? 'shared' : 'home');
  const from = options.from ?? FIRST_USE;
  const setsClock = options.setsClock ?? chance.pick(['never', 'never', 'when-off', 'always']);
  const course = createCourse(chance, {
    people: use === 'home' ? 1 : 30,
    controls: 0.04,
    errors: 0.03,
    tellsExpiry: chance.happens(0.4),
  });
  const meter = newMeter(chance, options, zone, from, protocol, use);
  const dock: Dock = { port: '/dev/ttyUSB0', zone, protocol, setsClock };
  const cutsReads = chance.happens(0.25);
  const life = planLife(chance, { world, use, zone, from, days: options.days ?? 400 });
  return liveThrough(meter, life, { chance, course, dock, cutsReads, world });
}

function newMeter(
  chance: Chance,
  options: HistoryOptions,
  zone: Zone,
  from: Instant,
  protocol: 'line' | 'astm',
  use: 'home' | 'shared',
): VirtualMeter {
  const resolution = options.resolutionMs ?? (chance.happens(0.5) ? 1000 : MINUTE_MS);
  const year = chance.pick([2000, 2010, 2020]);
  const orders: readonly [MemoryOrder, ...MemoryOrder[]] =
    protocol === 'line' ? ['newest', 'oldest', 'ring'] : ['newest', 'oldest'];
  const order = chance.pick(orders);
  const capacity = use === 'home' ? chance.pick([12, 50, 200]) : 200;
  // Somebody set the clock before the first test, by eye.
  const setAt = instant(from - 3_600_000);
  const shows = wall(zone.wallAt(setAt) + Math.round(chance.between(-3, 3) * MINUTE_MS));
  return {
    id: `SN${String(options.seed).padStart(6, '0')}`,
    model: chance.pick(['GM-10', 'GM-20']),
    firmware: '1.0',
    memory: emptyMemory(options.capacity ?? capacity, options.order ?? order),
    clock: {
      // Crystals with their temperature and age stay well inside 100 ppm: at most 60 and 15 here.
      rate: { ppm: chance.between(-60, 60), swayPpm: chance.between(0, 15), swayPhase: chance.next() },
      defaultStamp: wall(Date.UTC(year, 0, 1)),
      losses: 0,
      setting: { at: setAt, shows },
    },
    stampResolutionMs: resolution,
    clockResolutionMs: resolution === 1000 || chance.happens(0.5) ? 1000 : MINUTE_MS,
    tellsRunNumbers: options.runNumbers ?? chance.happens(0.5),
    tellsLosses: options.lossCounts ?? chance.happens(0.4),
    tellsDefault: chance.happens(0.5),
  };
}

/** What a life happens in. */
export interface Surroundings {
  readonly chance: Chance;
  readonly course: Course;
  readonly dock: Dock;
  /** Whether the host's reads cut the stream anywhere. */
  readonly cutsReads: boolean;
  readonly world: World;
}

interface Growing extends Omit<TrueTest, 'toldIn' | 'brokenIn'> {
  readonly toldIn: number[];
  readonly brokenIn: number[];
}

/** Lets a life, in the order of time, happen to a meter. */
export function liveThrough(born: VirtualMeter, life: readonly Happening[], around: Surroundings): History {
  const { chance, course, dock } = around;
  const captures: Capture[] = [];
  const tests: Growing[] = [];
  const downloads: TrueDownload[] = [];
  const first = born.clock.setting;
  const clockEvents: TrueClockEvent[] = first ? [{ kind: 'hand-setting', ...first, how: 'right' }] : [];
  const deletions: TrueDeletion[] = [];
  let meter = born;
  let overwrittenUnread = 0;
  // Two things do not happen at once, and nothing happens while the meter is docked.
  let busyUntil = Number.NEGATIVE_INFINITY;

  const noteClock = (kind: TrueClockEvent['kind'], at: Instant, before: VirtualMeter, how?: Setting): void => {
    const showed = readClock(before.clock, at);
    const shows = readClock(meter.clock, at);
    clockEvents.push({
      kind,
      at,
      ...(showed === undefined ? {} : { showed }),
      ...(shows === undefined ? {} : { shows }),
      ...(how ? { how } : {}),
    });
  };

  const test = (at: Instant): void => {
    const [oldest] = meter.memory.held;
    meter = makeTest(meter, at, course.next(at));
    const newest = meter.memory.held.at(-1);
    if (newest) tests.push({ ...newest.test, at, toldIn: [], brokenIn: [] });
    const isOverwritten = oldest !== undefined && meter.memory.held[0] !== oldest;
    if (isOverwritten && tests[oldest.test.made - 1]?.toldIn.length === 0) overwrittenUnread++;
  };

  const dockAt = (at: Instant, pulled?: number): void => {
    const before = meter;
    const cable: CableOptions = { baud: 9600, cutsReads: around.cutsReads };
    let done = visit(meter, dock, at, cable, chance);
    if (pulled !== undefined) {
      // The same visit again on a cable that is pulled somewhere in it.
      done = visit(meter, dock, at, { ...cable, pullAfter: Math.floor(pulled * done.bytesFromMeter) }, chance);
    }
    const place = downloads.length;
    for (const made of done.told) tests[made - 1]?.toldIn.push(place);
    if (done.broken !== undefined) tests[done.broken - 1]?.brokenIn.push(place);
    downloads.push({ at, isComplete: done.isComplete, held: before.memory.held.length, overwrittenUnread });
    if (done.isComplete) overwrittenUnread = 0;
    captures.push(done.capture);
    meter = done.meter;
    const setting = meter.clock.setting;
    if (setting && setting !== before.clock.setting) noteClock('gateway-setting', setting.at, before);
    const lastAt = done.capture.chunks.at(-1)?.at ?? at;
    busyUntil = (done.capture.closedAt ?? lastAt) + 10_000;
  };

  const remove = (kind: TrueDeletion['kind'], at: Instant): void => {
    const { held } = meter.memory;
    if (held.length === 0) return;
    // Most often the newest is doubted.
    const place = chance.happens(0.6) ? held.length - 1 : chance.whole(0, held.length - 1);
    const gone = kind === 'delete-one' ? held.slice(place, place + 1) : held;
    const change = { 'delete-one': deleteOne, 'delete-all': deleteAll, 'factory-reset': factoryReset }[kind];
    meter = { ...meter, memory: change(meter.memory, place) };
    deletions.push({ kind, at, gone: gone.map((entry) => entry.test.made) });
  };

  for (const happening of life) {
    const at = instant(Math.max(happening.at, busyUntil));
    busyUntil = at + 1000;
    switch (happening.kind) {
      case 'test':
        test(at);
        break;
      case 'visit':
        dockAt(at, happening.pulled);
        break;
      case 'power-loss': {
        const before = meter;
        meter = losePower(meter, at);
        noteClock('power-loss', at, before);
        break;
      }
      case 'hand-setting': {
        const set = handSetting(meter.clock, happening.how, at, dock.zone, chance);
        if (!set) break;
        const before = meter;
        meter = setMeterClock(meter, at, set.shows);
        noteClock('hand-setting', at, before, set.how);
        break;
      }
      default:
        remove(happening.kind, at);
    }
  }
  return {
    captures,
    meter,
    world: around.world,
    zone: dock.zone.name,
    protocol: dock.protocol,
    tests,
    downloads,
    clockEvents,
    deletions,
  };
}

/** The truth as plain JSON, in the style of the published samples: times as text, one object a meter. */
export function truthJson(history: History): unknown {
  const { meter } = history;
  const iso = (at: Instant): string => new Date(at).toISOString();
  const shown = (at: Wall | undefined): string | undefined => (at === undefined ? undefined : formatWall(at));
  return {
    world: history.world,
    id: meter.id,
    model: meter.model,
    zone: history.zone,
    protocol: history.protocol,
    order: meter.memory.order,
    capacity: meter.memory.capacity,
    runNumbers: meter.tellsRunNumbers,
    lossCounts: meter.tellsLosses,
    resolutionMs: meter.stampResolutionMs,
    afterLoss: shown(meter.clock.defaultStamp),
    downloads: history.downloads.map((download) => ({ ...download, at: iso(download.at) })),
    tests: history.tests.map((test) => ({ ...test, at: iso(test.at) })),
    clockEvents: history.clockEvents.map((event) => ({
      ...event,
      at: iso(event.at),
      showed: shown(event.showed),
      shows: shown(event.shows),
    })),
    deletions: history.deletions.map((deletion) => ({ ...deletion, at: iso(deletion.at) })),
  };
}
