/** The docks of a compressed day: who is there since when, who comes next, and which tests each visit makes the store owe. */
import type { Chance } from '../../src/virtual/chance.ts';
import { type MeterDock, type OnSent, ptyDock, tcpDock } from '../support/meter-dock.ts';
import { type DayMeter, dayMeter } from './day-meters.ts';
import type { FoundStore } from './found-store.ts';

/** A meter at a dock. */
export interface Visit {
  readonly meter: DayMeter;
  readonly since: number;
  /** The tests in its memory when it came, by their places. */
  readonly held: readonly number[];
}

/** One dock, and who is there. */
export interface DayPlace {
  readonly name: string;
  readonly protocol: DayMeter['protocol'];
  readonly dock: MeterDock;
  visit?: Visit | undefined;
}

/** So many docks: the second of every four is a pseudo-terminal, the fourth is for meters that send by themselves. */
export async function dayPlaces(count: number, onSent: () => OnSent): Promise<DayPlace[]> {
  const places: DayPlace[] = [];
  for (let i = 0; i < count; i++) {
    const dock = await (i % 4 === 1 ? ptyDock(onSent()) : tcpDock(onSent()));
    places.push({ name: `dock ${i + 1}`, protocol: i % 4 === 3 ? 'astm' : 'line', dock });
  }
  return places;
}

/** Three meters for each two docks, so that there is always one to come. */
export const dayMeters = (places: readonly DayPlace[], seed: number): DayMeter[] =>
  places.flatMap(({ protocol }, i) =>
    Array.from({ length: 1 + (i % 2) }, (_, n) => dayMeter(`PA-D${i + 1}${n}`, protocol, seed * 1000 + i * 10 + n)),
  );

/** A meter comes to a dock; whoever was there goes. */
export function arrive(place: DayPlace, meter: DayMeter): void {
  place.visit = { meter, since: Date.now(), held: meter.held() };
  place.dock.insert(meter.port);
}

/** True where the meter at a dock has been read whole since it came. */
export const isRead = ({ visit }: DayPlace, found: FoundStore): boolean =>
  visit !== undefined && (found.wholeAt.get(visit.meter.id) ?? 0) >= visit.since;

/** The meter that is there was not read whole yet: what it holds by now is what its visit is about. */
export function stay(place: DayPlace): void {
  if (place.visit) place.visit = { ...place.visit, held: place.visit.meter.held() };
}

/** The meter goes. What it held all the time is owed by the store, where it was read whole meanwhile. */
export function depart(place: DayPlace, found: FoundStore): void {
  const { visit } = place;
  if (!visit) return;
  if (isRead(place, found)) {
    const still = new Set(visit.meter.held());
    for (const which of visit.held) if (still.has(which)) visit.meter.owed.add(which);
  }
  place.visit = undefined;
  place.dock.remove();
}

/** A meter of a dock's kind that is nowhere now, drawn from chance. */
export function nextFor(
  place: DayPlace,
  places: readonly DayPlace[],
  meters: readonly DayMeter[],
  chance: Chance,
): DayMeter | undefined {
  const present = new Set(places.map(({ visit }) => visit?.meter));
  const [first, ...rest] = meters.filter((meter) => meter.protocol === place.protocol && !present.has(meter));
  return first && chance.pick([first, ...rest]);
}
