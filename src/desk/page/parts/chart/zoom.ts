/** What part of a picture is shown, and how keys move it. Pure. */

/** From the left edge to the right. */
export interface Span {
  readonly min: number;
  readonly max: number;
}

/** The keys that a picture understands. */
export const ZOOM_KEYS = ['+', '-', 'ArrowLeft', 'ArrowRight', 'Home'] as const;
export type ZoomKey = (typeof ZOOM_KEYS)[number];

/** Keeps a span inside the whole, no wider than it and no narrower than `least`. */
export function inside(span: Span, whole: Span, least: number): Span {
  const width = Math.min(Math.max(span.max - span.min, least), whole.max - whole.min);
  const min = Math.min(Math.max(span.min, whole.min), whole.max - width);
  return { min, max: min + width };
}

/** What is shown after a key: nearer and farther around the middle, a third to either side, or all. */
export function afterKey(key: ZoomKey, shown: Span, whole: Span, least: number): Span {
  const width = shown.max - shown.min;
  const middle = (shown.min + shown.max) / 2;
  switch (key) {
    case '+':
      return inside({ min: middle - width / 3, max: middle + width / 3 }, whole, least);
    case '-':
      return inside({ min: middle - width * 0.75, max: middle + width * 0.75 }, whole, least);
    case 'ArrowLeft':
      return inside({ min: shown.min - width / 3, max: shown.max - width / 3 }, whole, least);
    case 'ArrowRight':
      return inside({ min: shown.min + width / 3, max: shown.max + width / 3 }, whole, least);
    case 'Home':
      return whole;
  }
}
