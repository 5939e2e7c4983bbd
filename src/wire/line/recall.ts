/**
 * Tests that an answer told and that no later answer holds: the memory changed in between, by a test of which nothing was
 * heard. They were made, so they belong to the download, in the order in which they were told.
 */
import type { ImageItem } from '../../core/download.ts';
import type { TestRecord } from '../../core/reading.ts';
import { contentOf } from './same-test.ts';

/**
 * The image with what was forgotten: lists of tests, oldest first, each as the memory was when it was put aside. A test
 * stands before the next newer one of its list that is in the image; failing that, behind the next older one; failing
 * both, before the memory of now, which begins behind the first `displaced` items. Its place is `x` and a number from
 * `displaced` + 1 on.
 */
export function recall(
  image: readonly ImageItem[],
  forgotten: readonly (readonly TestRecord[])[],
  displaced: number,
): ImageItem[] {
  const items = [...image];
  // Most memories are told once: then no test need be written out to be compared.
  if (forgotten.length === 0) return items;
  const keys = image.map(keyOf);
  let recalled = 0;
  // What was put aside last is the nearest to what is there now.
  for (const list of forgotten.toReversed()) {
    const found = matches(keys, list.map(contentOf));
    let beforeThis = found.every((at) => at === undefined) ? displaced + recalled : undefined;
    for (let i = list.length - 1; i >= 0; i--) {
      const at = found[i];
      if (at !== undefined) {
        beforeThis = at;
        continue;
      }
      const test = list[i] as TestRecord;
      const older = found.slice(0, i).findLast((place) => place !== undefined);
      // Told twice in a row, between tests that are there: it moved on while it was told.
      if (older !== undefined && found[i + 1] !== undefined && contentOf(list[i + 1] as TestRecord) === contentOf(test))
        continue;
      const place = beforeThis ?? (older === undefined ? items.length : older + 1);
      recalled++;
      items.splice(place, 0, { kind: 'test', test: { ...test, place: `x${displaced + recalled}` } });
      keys.splice(place, 0, contentOf(test));
    }
  }
  return items;
}

const keyOf = (item: ImageItem): string => (item.kind === 'test' ? contentOf(item.test) : '');

/** Where each test of the list stands in the image, newest first and in order; undefined where it does not. */
function matches(keys: readonly string[], list: readonly string[]): (number | undefined)[] {
  const found: (number | undefined)[] = [];
  let end = keys.length - 1;
  for (let i = list.length - 1; i >= 0; i--) {
    const at = end < 0 ? -1 : keys.lastIndexOf(list[i] as string, end);
    if (at < 0) continue;
    found[i] = at;
    end = at - 1;
  }
  return Array.from({ length: list.length }, (_, i) => found[i]);
}
