/**
 * What downloads say about a clock, and the gaps between them. A clock that is asked at T and answers 100 ms later that
 * it shows M has an offset between M - T - 100 ms and M + 1000 ms - T.
 */
import { describe, expect, it } from 'vitest';
import { type Anchor, anchorsOf, gapsOf, meet, middle, widen } from '../../src/clock/anchors.ts';
import { reachBack } from '../../src/clock/in-use.ts';
import type { ClockEvent } from '../../src/core/download.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { download, historyOf, setting, showing, stamped, utc, wallOf } from './hand-made.ts';

const DAY = 86_400_000;
const UTC = zoneOf('Etc/UTC');
const unset = (at: string): ClockEvent => ({ kind: 'unset', from: utc(at), to: utc(at) });
const anchors = (events: readonly ClockEvent[], more: Parameters<typeof download>[2] = {}) =>
  anchorsOf({ ...download('D1', events, more), zone: UTC });
const short = ({ wall, offset, afterSetting }: Anchor) => ({
  wall: new Date(wall).toISOString().slice(11, 19),
  offset: [offset.lo, offset.hi],
  afterSetting,
});

it('spans have a common part, a middle, and grow on both sides', () => {
  expect(meet({ lo: 1, hi: 5 }, { lo: 3, hi: 9 })).toEqual({ lo: 3, hi: 5 });
  expect(meet({ lo: 3, hi: 9 }, { lo: 1, hi: 2 })).toEqual({ lo: 3, hi: 2 });
  expect(middle({ lo: 3, hi: 9 })).toBe(6);
  expect(widen({ lo: 3, hi: 9 }, 2)).toEqual({ lo: 1, hi: 11 });
});

describe('the anchors of a download', () => {
  const asked = '2026-03-02T10:00:00';

  it('hold what was shown, when, and what the meter said beside it', () => {
    const plain = {
      readout: 'D1',
      at: { lo: utc(asked), hi: utc(asked) + 100 },
      wall: wallOf('2026-03-02T10:00:30'),
      resolutionMs: 1000,
      offset: { lo: 29_900, hi: 31_000 },
      zone: UTC,
      afterSetting: false,
    };
    const shown = [showing(asked, '2026-03-02T10:00:30')];
    expect(anchors(shown)).toEqual({ anchors: [plain], unset: false });
    expect(Object.keys(anchors(shown).anchors[0] ?? {})).not.toContain('lossCount');
    expect(Object.keys(anchors(shown).anchors[0] ?? {})).not.toContain('resetStamp');
    const resetStamp = wallOf('2000-01-01T00:00:00');
    expect(anchors(shown, { lossCount: 4, resetStamp }).anchors).toEqual([{ ...plain, lossCount: 4, resetStamp }]);
    expect(anchors([])).toEqual({ anchors: [], unset: false });
  });

  it('are one where what is shown agrees, with the common offset, and several where it does not', () => {
    // Half a second later the next second is shown: 29.4 to 30.5 s, and both.
    const again = {
      ...showing(asked, '2026-03-02T10:00:30'),
      from: utc(asked) + 500,
      to: utc(asked) + 600,
    } as ClockEvent;
    expect(anchors([showing(asked, '2026-03-02T10:00:30'), again]).anchors.map(short)).toEqual([
      { wall: '10:00:30', offset: [29_900, 30_500], afterSetting: false },
    ]);
    // Shown until 1.1 s later at the latest: both agree in one moment only. A millisecond later in none.
    const late = (ms: number) => ({ ...again, from: utc(asked) + ms, to: utc(asked) + ms + 100 }) as ClockEvent;
    const first = showing(asked, '2026-03-02T10:00:30');
    expect(anchors([first, late(1100)]).anchors.map(short)).toEqual([
      { wall: '10:00:30', offset: [29_900, 29_900], afterSetting: false },
    ]);
    expect(anchors([first, late(1101)]).anchors.map(short)).toEqual([
      { wall: '10:00:30', offset: [29_900, 31_000], afterSetting: false },
      { wall: '10:00:30', offset: [28_799, 29_899], afterSetting: false },
    ]);
  });

  it('begin anew where the gateway set the clock, even to what it showed already', () => {
    const set = setting('2026-03-02T10:00:05', '2026-03-02T10:00:05');
    const right = showing(asked, asked);
    const after = showing('2026-03-02T10:00:06', '2026-03-02T10:00:06', 50);
    const off = showing('2026-03-02T10:00:07', '2026-03-02T10:00:17');
    expect(anchors([right, set, after, off]).anchors.map(short)).toEqual([
      { wall: '10:00:00', offset: [-100, 1000], afterSetting: false },
      { wall: '10:00:05', offset: [-50, 1000], afterSetting: true },
      { wall: '10:00:17', offset: [9900, 11_000], afterSetting: false },
    ]);
    expect(anchors([set, right]).anchors[0]?.at).toEqual({
      lo: utc('2026-03-02T10:00:05'),
      hi: utc('2026-03-02T10:00:05') + 100,
    });
  });

  it('of a clock without seconds that was set may have cut them off or kept them', () => {
    const set = setting('2026-03-02T10:00:32', '2026-03-02T10:00:32');
    const minutes = showing('2026-03-02T10:00:00', '2026-03-02T09:30');
    const [, second] = anchors([minutes, set]).anchors;
    expect(second).toMatchObject({ wall: wallOf('2026-03-02T10:00'), resolutionMs: 60_000 });
    // From 32.1 s behind to one second ahead.
    expect(second?.offset).toEqual({ lo: -32_100, hi: 1000 });
    // What shows whole days cuts off no less than seconds where no showing says so.
    expect(anchors([set]).anchors[0]).toMatchObject({ wall: wallOf('2026-03-02T10:00:32'), resolutionMs: 1000 });
  });

  it('hold both where a setting was not answered, and nothing of one that was refused', () => {
    const half = showing(asked, '2026-03-02T09:30:00');
    const at = '2026-03-02T10:00:05';
    const [only, ...others] = anchors([half, setting(at, at, 'unknown')]).anchors;
    expect(others).toEqual([]);
    expect(only).toMatchObject({ wall: wallOf('2026-03-02T09:30:00'), offset: { lo: -1_800_100, hi: -1_799_000 } });
    expect(only?.alternative).toEqual({
      at: { lo: utc(at), hi: utc(at) + 100 },
      wall: wallOf(at),
      resolutionMs: 1000,
      offset: { lo: -100, hi: 1000 },
    });
    expect(anchors([half, setting(at, at, 'refused')])).toEqual(anchors([half]));
    expect(anchors([setting(at, at, 'unknown')]).anchors).toEqual([]);
    expect(anchors([setting(at, at, 'refused')]).anchors).toEqual([]);
  });

  it('come with whether the clock was seen unset before the first of them', () => {
    const set = setting('2026-03-02T10:00:05', '2026-03-02T10:00:05');
    expect(anchors([unset(asked)])).toEqual({ anchors: [], unset: true });
    expect(anchors([unset(asked), set]).unset).toBe(true);
    expect(anchors([showing(asked, asked), unset(asked)]).unset).toBe(false);
    // Unset, set, and unset again: it was so before all the same.
    expect(anchors([unset(asked), set, unset('2026-03-02T10:00:09')]).unset).toBe(true);
  });
});

describe('the gaps of a history', () => {
  const right = (id: string, at: string, more: Parameters<typeof download>[2] = {}) =>
    download(id, [showing(at, at)], more);
  const D1 = right('D1', '2026-03-02T10:00:00');
  const D2 = right('D2', '2026-03-12T10:00:00');
  const gaps = (...given: Parameters<typeof historyOf>) => gapsOf(historyOf(...given));
  const shape = (all: ReturnType<typeof gapsOf>) =>
    all.map((g) => [g.first?.readout, g.tests.map((t) => t.id).join(' '), g.last?.readout]);
  const THREE_YEARS = 1095.75 * DAY;

  it('lie between downloads that follow each other, before the first and behind the last', () => {
    const t = (id: string) => stamped(id, '2026-03-05T10:00:00');
    expect(shape(gaps([t('a'), D1, t('b'), t('c'), D2, t('d')]))).toEqual([
      [undefined, 'a', 'D1'],
      ['D1', 'b c', 'D2'],
      ['D2', 'd', undefined],
    ]);
    expect(shape(gaps([D1, D2]))).toEqual([['D1', '', 'D2']]);
    expect(shape(gaps([D1]))).toEqual([]);
    expect(shape(gaps([t('a'), t('b')]))).toEqual([[undefined, 'a b', undefined]]);
  });

  it('end where the gateway set the clock, and the next begins with what it was set to', () => {
    const set = download('D1', [
      showing('2026-03-02T10:00:00', '2026-03-02T09:00:00'),
      setting('2026-03-02T10:00:05', '2026-03-02T10:00:05'),
    ]);
    const all = gaps([stamped('a', '2026-03-01T10:00:00'), set, stamped('b', '2026-03-05T10:00:00'), D2]);
    expect(shape(all)).toEqual([
      [undefined, 'a', 'D1'],
      ['D1', 'b', 'D2'],
    ]);
    expect(all[0]?.last?.afterSetting).toBe(false);
    expect(all[1]?.first?.afterSetting).toBe(true);
    // Unset before, set without having shown anything: the tests before have no anchor behind them.
    const bare = download('D1', [setting('2026-03-02T10:00:05', '2026-03-02T10:00:05')]);
    expect(shape(gaps([stamped('a', '2026-03-01T10:00:00'), bare, stamped('b', '2026-03-05T10:00:00'), D2]))).toEqual([
      [undefined, 'a', undefined],
      ['D1', 'b', 'D2'],
    ]);
  });

  it('pass over a download whose place among the tests is uncertain, unless no test follows', () => {
    const loose = right('D2', '2026-03-06T10:00:00', { mayPrecede: 2 });
    const t = (id: string) => stamped(id, '2026-03-05T10:00:00');
    const D3 = right('D3', '2026-03-12T10:00:00');
    expect(shape(gaps([D1, t('a'), loose, t('b'), D3]))).toEqual([['D1', 'a b', 'D3']]);
    expect(shape(gaps([D1, t('a'), loose, D3]))).toEqual([
      ['D1', 'a', 'D2'],
      ['D2', '', 'D3'],
    ]);
    // What it knew of time says nothing about the tests behind it either.
    expect(gaps([D1, t('a'), loose, t('b'), D3])[0]?.notBefore).toEqual([
      utc('2026-03-02T10:00:00'),
      utc('2026-03-02T10:00:00'),
    ]);
  });

  it('say after which moment each test was made: the download before, or three years before the first', () => {
    const t = (id: string) => stamped(id, '2026-03-05T10:00:00');
    const silent = download('D2', [unset('2026-03-07T10:00:00')]);
    const empty = download('D3', []);
    const all = gaps([t('a'), D1, t('b'), silent, t('c'), empty, t('d')]);
    expect(all.map((g) => g.notBefore)).toEqual([
      [utc('2026-03-02T10:00:00') - THREE_YEARS],
      [utc('2026-03-02T10:00:00'), utc('2026-03-07T10:00:00'), utc('2026-03-07T10:00:00')],
    ]);
    const since = utc('2025-12-24T00:00:00');
    expect(gaps([t('a'), D1], { inUseSince: since })[0]?.notBefore).toEqual([since]);
    expect(gaps([t('a'), empty, t('b')])[0]?.notBefore).toEqual([Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY]);
    expect(gaps([t('a')])[0]?.notBefore).toEqual([Number.NEGATIVE_INFINITY]);
  });

  it('say before which test, or before the end, the clock was seen unset', () => {
    const t = (id: string) => stamped(id, '2026-03-05T10:00:00');
    const silent = download('D2', [unset('2026-03-07T10:00:00')]);
    const flags = (all: ReturnType<typeof gapsOf>) => all.map((g) => [...g.clockSeenUnset, g.unsetBeforeLast]);
    expect(flags(gaps([D1, t('a'), silent, t('b'), t('c'), D2]))).toEqual([[false, true, false, false]]);
    expect(flags(gaps([t('a'), t('b'), D1]))).toEqual([[false, false, false]]);
    expect(flags(gaps([D1, t('a'), silent, D2, t('b'), t('c')]))).toEqual([
      [false, true],
      [false, false, false],
    ]);
  });

  it('know the zones of the docks at both ends, each once, or the one of the history', () => {
    const away = right('D2', '2026-03-12T10:00:00', { zone: 'Europe/Lisbon' });
    const zones = (items: Parameters<typeof historyOf>[0]) =>
      gaps(items, { zone: 'Etc/UTC' }).map((g) => g.zones.map((z) => z.name));
    expect(zones([D1, D2])).toEqual([['Etc/UTC']]);
    expect(zones([D1, away])).toEqual([['Etc/UTC', 'Europe/Lisbon']]);
    expect(zones([D1, stamped('a', '2026-03-05T10:00:00')])).toEqual([['Etc/UTC']]);
    expect(zones([away, stamped('a', '2026-03-05T10:00:00')])).toEqual([['Europe/Lisbon']]);
    expect(zones([stamped('a', '2026-03-05T10:00:00')])).toEqual([['Etc/UTC']]);
  });
});

describe('a meter whose stamps run on undisturbed for more than three years', () => {
  const D1 = download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]);
  const began = utc('2022-05-05T10:00:00') - 1000 - DAY; // a day before its first stamp, by a clock up to 1 s ahead
  const rest = ['2023-05-05T10:00:00', '2024-05-05T10:00:00', '2025-05-05T10:00:00'].map((at) => stamped('b', at));
  const items = [stamped('a', '2022-05-05T10:00:00'), ...rest, D1] as const;
  const all = [began, began, began, began];
  const floors = (given: Parameters<typeof historyOf>[0], more?: Parameters<typeof historyOf>[1]) => {
    const gaps = gapsOf(historyOf(given, more));
    const back = reachBack(gaps);
    return { before: gaps[0]?.notBefore, after: back[0]?.notBefore, isSame: back === gaps, rest: back.slice(1) };
  };

  it('is taken to have been in use since a day before the first of them', () => {
    expect(floors(items).after).toEqual(all);
    const more = [...items, download('D2', [showing('2026-03-12T10:00:00', '2026-03-12T10:00:00')])];
    expect(floors(more).rest).toEqual(gapsOf(historyOf(more)).slice(1));
  });

  it('leaves what a download that did not see the clock says of the tests behind it', () => {
    // It was refused when it set the clock, and asked nothing: 1 August 2022.
    const at = '2022-08-01T10:00:00';
    const blind = download('D0', [setting(at, at, 'refused')]);
    const [first, ...others] = items;
    expect(floors([first, blind, ...others], { inUseSince: utc('2022-07-01T00:00:00') }).after).toEqual([
      began,
      utc(at),
      utc(at),
      utc(at),
    ]);
    expect(floors([first, blind, ...others]).isSame).toBe(true); // three years before that download are enough
  });

  it('counts as in use for no longer than it says where that is less than three years, or as told', () => {
    expect(floors(items, { inUseSince: utc('2020-01-01T00:00:00') }).isSame).toBe(true);
    expect(floors(items, { inUseSince: began as never }).isSame).toBe(true);
    expect(floors(items, { inUseSince: (began + 1) as never }).after).toEqual(all);
    expect(floors([stamped('a', '2025-05-05T10:00:00'), D1]).isSame).toBe(true);
  });

  it('says nothing where its clock was changed, where nothing can be read, or where no download ends it', () => {
    expect(floors([stamped('a', '2022-05-06T10:00:00'), ...items]).isSame).toBe(true);
    expect(floors([stamped('a', undefined), D1]).isSame).toBe(true);
    expect(floors([D1, stamped('a', '2022-05-05T10:00:00')]).isSame).toBe(true);
    expect(floors([stamped('a', '2022-05-05T10:00:00')]).isSame).toBe(true);
    const first = download('D0', [showing('2026-02-02T10:00:00', '2022-05-04T10:00:00')]);
    expect(floors([first, ...items]).isSame).toBe(true);
    expect(reachBack([])).toEqual([]);
    const { tests: _, ...bare } = gapsOf(historyOf([stamped('a', '2026-03-01T10:00:00'), D1]))[0] ?? {};
    const empty = [{ ...bare, tests: [], notBefore: [] }] as unknown as Parameters<typeof reachBack>[0];
    expect(reachBack(empty)).toBe(empty);
  });
});
