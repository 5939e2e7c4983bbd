/** Whether two records tell the same test, wherever in the memory it lay when they were told. */
import type { ImageItem } from '../../core/download.ts';
import type { TestRecord } from '../../core/reading.ts';

/** True where everything but place and slot is equal. Keys that nobody here knows say nothing: a meter may change them. */
export function sameTest(a: TestRecord, b: TestRecord): boolean {
  return contentOf(a) === contentOf(b);
}

/** What a record tells of its test, as text: equal for two records of the same test. */
export function contentOf(test: TestRecord): string {
  const { place: _place, slot: _slot, extra: _extra, ...content } = test;
  return JSON.stringify(Object.entries(content).sort(([a], [b]) => (a < b ? -1 : 1)));
}

/** How many of the first `news` are the last tests of the image, in the same order. */
export function overlapOf(image: readonly ImageItem[], news: readonly TestRecord[]): number {
  for (let length = Math.min(news.length, image.length); length > 0; length--) {
    const tail = image.slice(image.length - length);
    const isSame = tail.every((item, i) => {
      const made = news[i];
      return item.kind === 'test' && made !== undefined && sameTest(item.test, made);
    });
    if (isSame) return length;
  }
  return 0;
}
