/**
 * Days at the docks in simulated time: meters come, are tested, are exchanged, have their cables pulled and go again,
 * at sixteen ports. Used by a test with three days and by the proof that watches the memory.
 */
import type { MemoryOrder } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import type { Store } from '../../src/store/store.ts';
import { type Chance, chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { meterWith } from '../support/meters.ts';
import { dockOf } from './made-up.ts';
import { type SimDaemon, simDaemon, simWorld, stopSim } from './sim-daemon.ts';
import { SIM_START, type SimMeter, type SimPort, simMeter } from './sim-ports.ts';

export interface LongRunOptions {
  readonly seed: number;
  readonly hours: number;
  readonly ports: number;
  /** Downloads to aim at. */
  readonly visits: number;
  readonly store: Store;
  /** Called at the end of every simulated hour; time goes on when it resolves. */
  readonly onHour?: () => Promise<void>;
}

export interface LongRun {
  readonly downloads: number;
  readonly complete: number;
  readonly cut: number;
  readonly pulls: number;
  readonly testsMade: number;
  readonly readings: number;
  /** Tests that were made and are not in the store, and tests that are in it more than once. */
  readonly lost: number;
  readonly doubled: number;
  /** The most links that were open at once, and what was left open and running after the end. */
  readonly mostOpen: number;
  readonly openAfter: number;
  readonly timersAfter: number;
  readonly portsOpenedUnassigned: number;
}

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;

/** Three meters for each two ports, so that there is always one to come. Their memories fill up and wrap, between readings never whole. */
function makeMeters(chance: Chance, count: number): { meter: SimMeter; protocol: 'line' | 'astm' }[] {
  return Array.from({ length: count }, (_, i) => {
    const protocol = i % 5 === 4 ? 'astm' : 'line';
    // What sends by itself is read with the profile that says newest first.
    const order: MemoryOrder = protocol === 'astm' ? 'newest' : chance.pick(['newest', 'oldest']);
    const born = { ...meterWith({ tests: chance.whole(0, 12), capacity: 30, seed: i + 1, order }), id: `SN${i}` };
    return { protocol, meter: simMeter(born, protocol) };
  });
}

/** Runs it. Everything is decided by the seed. */
export async function longRun(options: LongRunOptions): Promise<LongRun> {
  const chance = chanceFrom(options.seed);
  const world = simWorld();
  const places = Array.from({ length: options.ports }, (_, i) => ({
    // Every fifth dock is for meters that send by themselves.
    protocol: i % 5 === 4 ? ('astm' as const) : ('line' as const),
    port: world.ports.add(`/dev/ttyUSB${i}`, `A${i}`),
  }));
  world.ports.add('/dev/ttyUSB99', 'FOREIGN').plug();
  const docks = places.map(({ protocol }, i) =>
    dockOf({
      name: `dock ${i}`,
      usbSerial: `A${i}`,
      ...(protocol === 'astm' ? { profile: 'astm-generic-newest' } : {}),
    }),
  );
  const sim = simDaemon(docks, { world, store: options.store });
  const meters = makeMeters(chance, Math.ceil(options.ports * 1.5));
  const course = createCourse(chance, { people: 30, controls: 0.05, errors: 0.05, tellsExpiry: true });
  const { time } = world;
  let pulls = 0;
  let mostOpen = 0;

  const testOn = (meter: SimMeter): void => {
    const facts = course.next(time.now());
    if (meter.where) meter.where.test(facts);
    else meter.step({ kind: 'test', at: time.now(), facts });
  };

  /** One meter's visit to a dock: it comes, perhaps is tested there, perhaps loses its cable, and goes. */
  const visit = async (protocol: 'line' | 'astm', port: SimPort): Promise<void> => {
    const free = meters.filter((candidate) => candidate.protocol === protocol && !candidate.meter.where);
    const [first, ...rest] = free;
    if (!first) return;
    const { meter } = chance.pick([first, ...rest]);
    for (let n = chance.whole(0, 2); n > 0; n--) testOn(meter);
    port.plug();
    port.insert(meter);
    if (chance.happens(0.15)) {
      pulls++;
      port.unplugAfter(chance.whole(1, 1500));
    }
  };

  const wait = (ms: number): Promise<void> =>
    new Promise((resolve) => void time.timers.after(Math.max(1, ms), resolve));
  const every = (options.hours * HOUR_MS * options.ports) / options.visits;
  const endAt = instant(SIM_START + options.hours * HOUR_MS);

  /** What happens at one port, from one visit to the next. */
  const live = async (place: { protocol: 'line' | 'astm'; port: SimPort }): Promise<void> => {
    await wait(chance.between(0, every));
    while (time.now() < endAt - HOUR_MS) {
      await visit(place.protocol, place.port);
      await wait(chance.between(0.2, 0.6) * every);
      // A test at the dock; E1394 meters tell it with their next sending.
      if (chance.happens(0.5) && place.port.inside()) place.port.test(course.next(time.now()));
      await wait(chance.between(MINUTE_MS, 0.2 * every));
      if (chance.happens(0.5)) place.port.unplug();
      place.port.remove();
      await wait(chance.between(0.1, 0.4) * every);
    }
  };
  const lives = Promise.all(places.map(live));

  for (let hour = 1; hour <= options.hours; hour++) {
    await time.runUntil(instant(SIM_START + hour * HOUR_MS));
    mostOpen = Math.max(mostOpen, world.ports.openLinks());
    await options.onHour?.();
  }
  let isOver = false;
  void lives.then(() => {
    isOver = true;
  });
  await time.runUntilTrue(() => isOver, 24 * HOUR_MS);

  // Whoever has something that was never read comes once more.
  for (const { protocol, meter } of meters) {
    const place = places.find((candidate) => candidate.protocol === protocol);
    if (!place) continue;
    place.port.unplugAfter(Number.POSITIVE_INFINITY);
    place.port.unplug();
    await time.runUntil(instant(time.now() + MINUTE_MS));
    place.port.plug();
    place.port.insert(meter);
    await time.runUntil(instant(time.now() + 3 * MINUTE_MS));
  }
  await stopSim(sim, 'clean');
  return { ...judge(sim, meters), pulls, mostOpen, openAfter: world.ports.openLinks(), timersAfter: sim.timers() };
}

/** Holds what the store has against what was ever tested. */
function judge(
  sim: SimDaemon,
  meters: readonly { readonly meter: SimMeter }[],
): Omit<LongRun, 'pulls' | 'mostOpen' | 'openAfter' | 'timersAfter'> {
  const rows = sim.store.db
    .statement<{ meter_id: string; run_number: number; n: number }>(
      `SELECT meter_id, run_number, count(*) AS n FROM reading JOIN meter USING (meter_no) GROUP BY 1, 2`,
    )
    .all();
  const stored = new Map(rows.map((row) => [`${row.meter_id} ${row.run_number}`, row.n]));
  let lost = 0;
  let testsMade = 0;
  for (const { meter } of meters) {
    const { id, memory } = meter.meter();
    testsMade += memory.made;
    for (let run = 1; run <= memory.made; run++) if (!stored.has(`${id} ${run}`)) lost++;
  }
  const downloads = sim.store.downloads.list();
  const readings = rows.reduce((sum, row) => sum + row.n, 0);
  const { opened } = sim.ports;
  return {
    downloads: downloads.length,
    complete: downloads.filter((download) => download.complete).length,
    cut: downloads.filter((download) => !download.complete).length,
    testsMade,
    readings,
    lost,
    doubled: rows.filter((row) => row.n > 1).length,
    portsOpenedUnassigned: opened.has('/dev/ttyUSB99') ? 1 : 0,
  };
}
