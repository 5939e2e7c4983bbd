/** Puts things that belong together into one list (`Map.groupBy` of newer platforms; Node 20 has none). */

/** Lists by key; keys in the order in which each is first met, and each list in the given order. */
export function groupBy<K, V>(things: Iterable<V>, keyOf: (thing: V) => K): Map<K, V[]> {
  const groups = new Map<K, V[]>();
  for (const thing of things) {
    const key = keyOf(thing);
    const group = groups.get(key);
    if (group) group.push(thing);
    else groups.set(key, [thing]);
  }
  return groups;
}
