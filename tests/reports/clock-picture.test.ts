/** The picture of a meter's clock: what is in it, and that nothing breaks it. */
import { describe, expect, it } from 'vitest';
import { zoneOf } from '../../src/core/zone.ts';
import { clockPicture, type PictureOptions } from '../../src/reports/clock-picture.ts';
import { download, placed, showing, stamped, utc } from '../clock/hand-made.ts';

const zone = zoneOf('Europe/Lisbon');
const LOSS = [
  download('D1', [showing('2026-01-01T10:00:00', '2026-01-01T10:00:00')]),
  stamped('D2-1', '2026-01-10T09:00:00'),
  stamped('D2-2', '2000-01-03T08:00:00'),
  stamped('D2-3', '2000-01-05T08:00:00'),
  download('D2', [showing('2026-01-31T10:00:00', '2000-01-10T12:00:00')]),
];
const draw = (items: Parameters<typeof placed>[0], more: Partial<PictureOptions> = {}): string =>
  clockPicture(placed(items), { title: 'The clock of GM-10 PA00042', zone, ...more }) ?? '';
const count = (svg: string, part: string): number => svg.split(part).length - 1;

describe('the picture of a clock', () => {
  it('has a dot for each test, a mark for each download, and what happened in words', () => {
    const svg = draw(LOSS);
    expect(count(svg, '<circle')).toBe(3);
    expect(svg).toContain('D2-1: Reckoned onwards from the download of 2026-01-01 10:00');
    expect(count(svg, 'the clock was seen')).toBe(2);
    expect(svg).toContain('The meter lost power between 2026-01-21 21:58 and 2026-01-21 22:01');
    expect(svg).not.toMatch(/NaN|Infinity|undefined/);
  });

  it('shows a stretch, and points one test out', () => {
    const svg = draw(LOSS, { from: utc('2026-01-05T00:00:00'), to: utc('2026-01-15T00:00:00'), pointOut: 'D2-1' });
    expect(count(svg, 'the clock was seen')).toBe(0);
    expect(svg).toContain('r="6"');
  });

  it('holds nothing that people wrote as markup', () => {
    expect(draw(LOSS, { title: `<script>"&'` })).toContain('&lt;script&gt;&quot;&amp;&#39;');
  });

  it('is none where no test has a time and no download saw the clock', () => {
    const unset = [stamped('D1-1', undefined), download('D1', [])];
    expect(clockPicture(placed(unset), { title: 'x', zone })).toBeUndefined();
    expect(clockPicture(placed([download('D1', [])]), { title: 'x', zone })).toBeUndefined();
  });

  it('can be drawn of one download alone', () => {
    const svg = draw([download('D1', [showing('2026-01-01T10:00:00', '2026-01-01T10:00:00')])]);
    expect(count(svg, '<circle')).toBe(0);
    expect(svg).not.toMatch(/NaN|Infinity|undefined/);
  });
});
