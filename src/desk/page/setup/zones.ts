/** Time zones to choose from. Pure. */

/** Every zone by its IANA name, that of this PC first. */
export const zonesToChoose = (own: string, all: readonly string[]): string[] => [
  own,
  ...all.filter((zone) => zone !== own),
];

/** As people read it: `America/St Johns`. */
export const zoneText = (zone: string): string => zone.replaceAll('_', ' ');
