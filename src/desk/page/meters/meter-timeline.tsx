/** The time line of a meter: how far its clock was off at each download, and what happened in between. */
import type { JSX } from 'preact';
import type { MeterPage } from '../../api/house.ts';
import { useHere } from '../here.ts';
import { Chart } from '../parts/chart/chart.tsx';
import { amountWords } from './incident-words.ts';

const DAY_S = 86_400;
/** Clocks that are off by days would press all others flat: on a scale of powers of ten both can be seen. */
const bend = (seconds: number): number => Math.sign(seconds) * Math.log10(1 + Math.abs(seconds));
/** A minute, an hour, a day, a year, to either side. */
const TICKS_S = [0, 60, 3600, 86_400, 31_536_000];

export function MeterTimeline({ page }: { readonly page: MeterPage }): JSX.Element {
  const { words, format } = useHere();
  const { meters: w } = words;
  const { downloads, incidents, tests } = page;
  const known = downloads.flatMap((d) => (d.clockOffS === undefined ? [] : [{ at: d.at / 1000, off: d.clockOffS }]));
  const moments = [...downloads.map((d) => d.at), ...tests.flatMap((t) => t.at ?? [])].map((ms) => ms / 1000);
  if (moments.length === 0) return <p>{w.noIncidents}</p>;
  const x = { min: Math.min(...moments) - 3 * DAY_S, max: Math.max(...moments) + 3 * DAY_S };
  const most = Math.max(2, ...known.map(({ off }) => Math.abs(bend(off)))) + 0.5;
  const ticks = [...TICKS_S.slice(1).map((s) => -s), ...TICKS_S]
    .filter((s) => Math.abs(bend(s)) < most)
    .sort((a, b) => a - b);
  return (
    <>
      <Chart
        says={`${w.timeline}. ${w.timelineAbout}`}
        x={x}
        y={{ min: -most, max: most }}
        isTime
        yLabel={w.offAxis}
        xTicks={(seconds) => format.shortDay(seconds * 1000)}
        yAt={ticks.map(bend)}
        yTicks={(bent) => {
          const seconds = ticks.find((t) => bend(t) === bent) ?? 0;
          return seconds === 0 ? '0' : `${seconds < 0 ? '−' : '+'}${amountWords(seconds, words, format)}`;
        }}
        least={7 * DAY_S}
        height={240}
        draw={(pen) => {
          const { inks } = pen;
          pen.path([[x.min, 0] as const, [x.max, 0] as const], inks.mid);
          for (const { at } of tests) if (at !== undefined) pen.footStroke(at / 1000);
          for (const [i, { earliest, latest }] of incidents.entries()) {
            const [from, to] = [earliest ?? latest, latest ?? earliest];
            if (from !== undefined && to !== undefined) pen.notch(from / 1000, to / 1000, String(i + 1));
          }
          for (const { at, off } of known) pen.mark(at, bend(off), 'round');
        }}
      />
      <p class="mid">{w.timelineAbout}</p>
    </>
  );
}
