/**
 * Histories of meters that do not exist, at the level of memory images, with their truth: a meter makes tests, loses
 * power, is deleted and reset, and is downloaded whole or in part, by one protocol or two. Written from the pages of
 * the design alone; it knows nothing of how settling decides.
 */
import type { ClockEvent, Download, ImageItem, MemoryOrder } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, type Wall, wall } from '../../src/core/meter-time.ts';
import { type DownloadId, downloadId, type TestRecord, type Value } from '../../src/core/reading.ts';
import { type Chance, chanceFrom } from '../../src/virtual/chance.ts';

/** What one told test truly is. */
export interface TrueSighting {
  readonly place: string;
  /** Which test of the meter's life, from 0. */
  readonly test: number;
  /** True where a fact was changed on the way and the weak checksum let it through. */
  readonly damaged: boolean;
}

export interface ToldDownload {
  readonly id: DownloadId;
  readonly download: Download;
  /** Every told test, in the order of the tests, image then fresh. */
  readonly told: readonly TrueSighting[];
  /** The tests that were in the memory when the image was told. */
  readonly there: ReadonlySet<number>;
  /** What befell the meter since the download before, for a person who reads a failing seed. */
  readonly since: readonly string[];
}

export interface History {
  readonly seed: number;
  readonly setup: Setup;
  readonly downloads: readonly ToldDownload[];
  /** Number of tests made in the meter's life. */
  readonly made: number;
  /** Tests that a person deleted, alone, with others, or by a factory reset. */
  readonly deleted: ReadonlySet<number>;
}

/** What kind of meter it is, and how it is read. */
export interface Setup {
  readonly order: MemoryOrder;
  readonly capacity: number;
  readonly hasRuns: boolean;
  readonly hasLossCount: boolean;
  readonly resolutionMs: number;
  readonly saysReset: boolean;
  readonly protocols: 'line' | 'astm' | 'both';
  readonly astm: {
    readonly resolutionMs: number;
    readonly hasRuns: boolean;
    readonly hasLot: boolean;
    readonly knowsCapacity: boolean;
  };
}

interface MadeTest {
  readonly index: number;
  readonly stamp: Wall | undefined;
  readonly run: number;
  readonly losses: number;
  readonly kind: TestRecord['kind'];
  readonly values: readonly Value[];
  readonly errorCode?: string;
  readonly lot: string;
}

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const START = Date.UTC(2026, 0, 7, 9, 30);
const DEFAULT_STAMP = wall(Date.UTC(2000, 0, 1));

/** A setup and a life from a seed: the same seed gives the same history. */
export function historyOf(seed: number): History {
  const chance = chanceFrom(seed);
  const setup: Setup = {
    order: chance.pick(['newest', 'oldest', 'ring']),
    capacity: chance.happens(0.8) ? chance.whole(3, 12) : chance.whole(20, 40),
    hasRuns: chance.happens(0.35),
    hasLossCount: chance.happens(0.4),
    resolutionMs: chance.pick([1000, MINUTE]),
    saysReset: chance.happens(0.5),
    protocols: chance.pick(['line', 'line', 'astm', 'both']),
    astm: {
      resolutionMs: chance.pick([1000, MINUTE]),
      hasRuns: chance.happens(0.5),
      hasLot: chance.happens(0.7),
      knowsCapacity: chance.happens(0.5),
    },
  };
  const meter = new ImaginedMeter(setup, chance);
  const downloads: ToldDownload[] = [];
  const count = chance.whole(3, 10);
  for (let n = 1; n <= count; n++) {
    const since = n > 1 && chance.happens(0.15) ? [] : meter.live();
    downloads.push(meter.tell(downloadId(n, 0), since));
  }
  return { seed, setup, downloads, made: meter.made, deleted: meter.deleted };
}

class ImaginedMeter {
  readonly deleted = new Set<number>();
  made = 0;
  readonly #setup: Setup;
  readonly #chance: Chance;
  /** Oldest first. */
  #held: { slot: number; test: MadeTest }[] = [];
  #next = 1;
  #run = 0;
  #losses = 0;
  #now = START;
  /** The clock shows true time plus this; undefined while it is not set. */
  #offset: number | undefined = 0;

  constructor(setup: Setup, chance: Chance) {
    this.#setup = setup;
    this.#chance = chance;
  }

  /** What happens to the meter between two downloads, in words. */
  live(): string[] {
    const chance = this.#chance;
    const events: string[] = [];
    const count = chance.whole(0, 7);
    for (let i = 0; i < count; i++) events.push(this.#event());
    this.#now += chance.whole(1, 300) * MINUTE;
    return events;
  }

  #event(): string {
    const chance = this.#chance;
    this.#now += chance.happens(0.3) ? chance.whole(5, 90) * 1000 : chance.whole(1, 6 * 24) * HOUR;
    const u = chance.next();
    if (u < 0.62) return this.#test();
    if (u < 0.68) {
      const first = this.#test('error');
      this.#now += chance.whole(2, 40) * 1000;
      return `${first}, ${this.#test('error')}`;
    }
    if (u < 0.76) return this.#lose();
    if (u < 0.84) return this.#setClock(this.#now + chance.whole(-3, 3) * MINUTE);
    if (u < 0.91) return this.#deleteOne(chance.whole(0, Math.max(0, this.#held.length - 1)));
    if (u < 0.93) return this.#deleteOne(this.#held.length - 1);
    if (u < 0.95) return this.#deleteAll();
    if (u < 0.965) return this.#reset();
    const burst = this.#setup.capacity + chance.whole(-1, 2);
    for (let i = 0; i < burst; i++) {
      this.#now += chance.whole(1, 200) * MINUTE;
      this.#test();
    }
    return `${burst} tests`;
  }

  #test(kind?: TestRecord['kind']): string {
    const chance = this.#chance;
    const what = kind ?? chance.pick(['patient', 'patient', 'patient', 'patient', 'control', 'error']);
    const inr = (chance.whole(18, 32) / 10).toFixed(1);
    const values: Value[] = [{ analyte: 'INR', value: inr, unit: '{INR}' }];
    if (chance.happens(0.3)) values.push({ analyte: 'PT', value: (Number(inr) * 11.5).toFixed(1), unit: 's' });
    const test: MadeTest = {
      index: this.made++,
      stamp: this.#offset === undefined ? undefined : wall(this.#now + this.#offset),
      run: ++this.#run,
      losses: this.#losses,
      kind: what,
      values: what === 'error' ? [] : values,
      ...(what === 'error' ? { errorCode: chance.pick(['E1', 'E4']) } : {}),
      lot: chance.pick(['1200003', '1200003', '1200017']),
    };
    const [oldest] = this.#held;
    const { order, capacity } = this.#setup;
    if (order === 'ring' ? oldest?.slot === this.#next : this.#held.length === capacity) this.#held.shift();
    this.#held.push({ slot: this.#next, test });
    this.#next = (this.#next % capacity) + 1;
    return `${what} test ${test.index}`;
  }

  #lose(): string {
    this.#losses++;
    this.#offset = this.#chance.happens(0.15) ? undefined : DEFAULT_STAMP - this.#now;
    // The first tests after a loss often come at once, so that stamps near the default one repeat.
    this.#now += this.#chance.whole(10, 150) * 1000;
    return this.#chance.happens(0.6) ? `power lost, ${this.#test()}` : 'power lost';
  }

  #setClock(shown: number): string {
    this.#offset = shown - this.#now;
    return 'clock set';
  }

  #deleteOne(place: number): string {
    const [entry] = this.#held.splice(place, 1);
    if (!entry) return 'nothing to delete';
    this.deleted.add(entry.test.index);
    return `test ${entry.test.index} deleted`;
  }

  #deleteAll(): string {
    for (const { test } of this.#held) this.deleted.add(test.index);
    this.#held = [];
    if (this.#chance.happens(0.5)) this.#next = 1;
    return 'all deleted';
  }

  #reset(): string {
    this.#deleteAll();
    this.#next = 1;
    this.#run = 0;
    this.#lose();
    return 'factory reset';
  }

  /** One download, whole or cut. */
  tell(id: DownloadId, since: readonly string[]): ToldDownload {
    const chance = this.#chance;
    const { protocols } = this.#setup;
    const protocol = protocols === 'both' ? chance.pick<Download['protocol']>(['line', 'astm']) : protocols;
    const at = instant(this.#now);
    const there = new Set(this.#held.map(({ test }) => test.index));
    const image = this.#image(protocol);
    const clock = this.#showClock();
    this.#now += 20_000;
    const fresh: Spoken[] = [];
    const freshCount = chance.happens(0.1) ? chance.whole(1, 2) : 0;
    for (let n = 1; n <= freshCount; n++) {
      this.#now += chance.whole(5, 100) * 1000;
      this.#test();
      const entry = this.#held.at(-1);
      if (entry) fresh.push(this.#speak(entry, protocol, `n${n}`));
    }
    const told = [...image.told, ...fresh];
    const { capacity, saysReset, hasLossCount, order } = this.#setup;
    const knowsCapacity = protocol === 'line' || this.#setup.astm.knowsCapacity;
    return {
      id,
      since,
      there,
      told: told.map(({ record, test, damaged }) => ({ place: record.place, test, damaged })),
      download: {
        meter: { id: 'PA00042', model: 'GM-10' },
        protocol,
        profile: protocol === 'line' ? 'tlp-generic' : 'astm-generic-newest',
        zone: 'Europe/Lisbon',
        port: 'tcp://dock.port-alder.example:4001',
        at,
        until: instant(this.#now),
        order: protocol === 'astm' && order === 'ring' ? 'newest' : order,
        ...(knowsCapacity ? { capacity } : {}),
        ...(protocol === 'line' || image.complete ? { held: there.size } : {}),
        ...(protocol === 'line' && hasLossCount ? { lossCount: this.#losses } : {}),
        ...(protocol === 'line' && saysReset ? { resetStamp: DEFAULT_STAMP } : {}),
        complete: image.complete,
        ...(image.complete ? {} : { cut: 'cut-off' }),
        image: image.items,
        fresh: fresh.map(({ record }) => record),
        clock,
        stats: { bytes: 0, damagedLines: 0, retries: 0, durationMs: this.#now - at },
      },
    };
  }

  #showClock(): ClockEvent[] {
    const [from, to] = [instant(this.#now), instant(this.#now + 200)];
    const show = (): ClockEvent =>
      this.#offset === undefined
        ? { kind: 'unset', from, to }
        : { kind: 'anchor', shown: meterTimeOf(wall(this.#now + this.#offset), this.#setup.resolutionMs), from, to };
    const events = [show()];
    if (this.#chance.happens(0.2)) {
      const asked = wall(this.#now);
      this.#setClock(this.#now);
      events.push({ kind: 'set', asked, from, to, outcome: 'confirmed' });
    }
    return events;
  }

  /** The memory as it is told: in the order of the tests, with holes. */
  #image(protocol: Download['protocol']): { items: ImageItem[]; told: Spoken[]; complete: boolean } {
    const chance = this.#chance;
    const order = protocol === 'astm' && this.#setup.order === 'ring' ? 'newest' : this.#setup.order;
    const held = this.#held;
    // Positions in the order of the tests, in the order in which they are sent.
    const sent = held.map((_, i) => i);
    if (order === 'newest') sent.reverse();
    if (order === 'ring') sent.sort((a, b) => (held[a]?.slot ?? 0) - (held[b]?.slot ?? 0));
    const isCut = chance.happens(0.25);
    const isHoled = !isCut && protocol === 'line' && chance.happens(0.08);
    const reached = isCut ? chance.whole(0, sent.length) : sent.length;
    const heard = new Set(sent.slice(0, reached).filter(() => !isHoled || chance.happens(0.8)));
    const complete = !isCut && heard.size === held.length;
    const damagedAt = protocol === 'astm' && chance.happens(0.12) ? chance.whole(0, held.length) : -1;
    const openAt = isCut && protocol === 'astm' && chance.happens(0.4) ? sent[reached - 1] : undefined;
    const items: ImageItem[] = [];
    const told: Spoken[] = [];
    let untold = 0;
    const left = held.length - heard.size;
    const closeHole = (): void => {
      if (untold === 0) return;
      const atMost = protocol === 'line' ? { atMost: isHoled ? untold : left } : {};
      items.push({ kind: 'hole', ...atMost });
      untold = 0;
    };
    held.forEach((entry, i) => {
      if (!heard.has(i)) {
        untold++;
        return;
      }
      closeHole();
      const place = `${order === 'ring' ? entry.slot : order === 'newest' ? held.length - i : i + 1}`;
      let spoken = this.#speak(entry, protocol, place);
      if (i === damagedAt) spoken = { ...spoken, record: this.#damage(spoken.record), damaged: true };
      if (i === openAt) spoken = { ...spoken, record: cutRecord(spoken.record, chance) };
      told.push(spoken);
      items.push({ kind: 'test', test: spoken.record });
    });
    closeHole();
    // Cut behind the last test: the line protocol has told how many there are, E1394 has not.
    if (isCut && heard.size === held.length && protocol === 'astm') {
      if (order === 'newest') items.unshift({ kind: 'hole' });
      else items.push({ kind: 'hole' });
    }
    return { items, told, complete };
  }

  #speak({ slot, test }: { slot: number; test: MadeTest }, protocol: Download['protocol'], place: string): Spoken {
    const { hasRuns, hasLossCount, resolutionMs, astm, order } = this.#setup;
    const isLine = protocol === 'line';
    const resolution = isLine ? resolutionMs : Math.max(resolutionMs, astm.resolutionMs);
    const time = test.stamp === undefined ? undefined : meterTimeOf(test.stamp, resolution);
    const keepsSlot = isLine && order === 'ring';
    const record: TestRecord = {
      place,
      ...(keepsSlot ? { slot } : place.startsWith('n') ? {} : { slot: Number(place) }),
      ...(hasRuns && (isLine || astm.hasRuns) ? { runNumber: test.run } : {}),
      meterTimeText: time?.text ?? '',
      ...(time ? { meterTime: time } : {}),
      kind: test.kind,
      values: test.values,
      ...(test.errorCode === undefined ? {} : { errorCode: test.errorCode }),
      ...(isLine || astm.hasLot ? { lot: test.lot } : {}),
      flags: isLine ? [] : ['single-read'],
      ...(isLine && hasLossCount ? { lossCount: test.losses } : {}),
    };
    return { record, test: test.index, damaged: false };
  }

  /** One character changed in one fact of one record; some other byte of the frame makes up for it in the sum. */
  #damage(record: TestRecord): TestRecord {
    const what = this.#chance.pick(['value', 'value', 'time', 'run', 'lot']);
    if (what === 'time' && record.meterTime) {
      const { wall: shown, resolutionMs } = record.meterTime;
      const isEven = Math.floor(shown / MINUTE) % 2 === 0;
      const meterTime = meterTimeOf(wall(shown + (isEven ? MINUTE : -MINUTE)), resolutionMs);
      return { ...record, meterTime, meterTimeText: meterTime.text };
    }
    if (what === 'run' && record.runNumber !== undefined) return { ...record, runNumber: otherDigit(record.runNumber) };
    if (what === 'lot' && record.lot !== undefined) return { ...record, lot: '1260003' };
    if (record.errorCode !== undefined) return { ...record, errorCode: 'E5' };
    const [first, ...rest] = record.values;
    if (!first) return record;
    const value = `${first.value.slice(0, -1)}${otherDigit(Number(first.value.at(-1))) % 10}`;
    return { ...record, values: [{ ...first, value }, ...rest] };
  }
}

/** The number with its last digit one up or down. */
const otherDigit = (n: number): number => n + (n % 2 === 0 ? 1 : -1);

interface Spoken {
  readonly record: TestRecord;
  readonly test: number;
  readonly damaged: boolean;
}

/** A record behind which the transfer broke off: the last value or the lot may be missing. */
function cutRecord(record: TestRecord, chance: Chance): TestRecord {
  const { lot: _lot, ...rest } = record;
  const values = record.values.length > 1 && chance.happens(0.5) ? record.values.slice(0, 1) : record.values;
  return { ...rest, values, open: true };
}
