/** What the page must know beforehand to say it in its own words. Constants only. */

/** Fewest characters of a passphrase. */
export const SHORTEST_PASSPHRASE = 10;

/** The dock of the virtual meter, while it is tried. */
export const VIRTUAL_DOCK = 'virtual meter';
