/**
 * A picture over two axes: the library draws axes and looks after zooming, everything that means something is drawn by
 * `draw` with a pen. Zoomed by dragging, by keys (+ − ← → Home) and by the buttons; a double click shows all. The same
 * facts must stand in words or a table beside it.
 */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type uPlot from 'uplot';
import { useHere } from '../../here.ts';
import 'uplot/dist/uPlot.min.css';
import './chart.css';
import { inksNow, type Pen, penOf } from './pen.ts';
import { afterKey, type Span, ZOOM_KEYS } from './zoom.ts';

export interface ChartProps {
  /** What it shows, in a sentence. */
  readonly says: string;
  /** All of the x axis; seconds since 1970 where it is time. */
  readonly x: Span;
  readonly y: Span;
  /** Where the x axis is time. */
  readonly isTime?: boolean;
  /** What is shown at first; all where absent. */
  readonly start?: Span;
  /** Labels of the axes. */
  readonly xLabel?: string;
  readonly yLabel?: string;
  /** Words of the ticks; numbers as they are where absent. */
  readonly xTicks?: (value: number) => string;
  readonly yTicks?: (value: number) => string;
  /** Where the ticks of the y axis stand; round numbers where absent. */
  readonly yAt?: readonly number[];
  /** The narrowest part that can be shown. */
  readonly least?: number;
  readonly height?: number;
  /** Buttons that show the newest so many seconds. */
  readonly spans?: readonly { readonly says: string; readonly length: number }[];
  readonly draw: (pen: Pen, shown: Span) => void;
}

export function Chart(props: ChartProps): JSX.Element {
  const { says, x, y, isTime = false, start, xLabel, yLabel, xTicks, yTicks, yAt, height = 330, spans = [] } = props;
  const { words, format, language } = useHere();
  const place = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | undefined>(undefined);
  const draw = useRef(props.draw);
  draw.current = props.draw;
  const [isZoomed, setIsZoomed] = useState(false);
  const least = props.least ?? (x.max - x.min) / 200;

  useEffect(() => {
    let isWanted = true;
    let observer: ResizeObserver | undefined;
    const dark = matchMedia('(prefers-color-scheme: dark)');
    const make = async (): Promise<void> => {
      const { default: UPlot } = await import('uplot');
      const at = place.current;
      if (!isWanted || !at) return;
      plot.current?.destroy();
      const shown = plot.current ? undefined : start;
      const inks = inksNow();
      const axis = (label: string | undefined, ticks: ((value: number) => string) | undefined): uPlot.Axis => ({
        stroke: inks.mid,
        font: '13px system-ui, "DejaVu Sans", sans-serif',
        grid: { stroke: inks.line, width: 1 },
        ticks: { stroke: inks.line, width: 1 },
        ...(label === undefined ? {} : { label, labelFont: '13px system-ui, sans-serif', labelSize: 22 }),
        ...(ticks ? { values: (_, splits) => splits.map(ticks) } : {}),
      });
      const first = shown ?? x;
      plot.current = new UPlot(
        {
          width: at.clientWidth,
          height,
          legend: { show: false },
          cursor: { drag: { x: true, y: false }, points: { show: false }, y: false },
          scales: { x: { time: isTime, min: first.min, max: first.max }, y: { range: [y.min, y.max] } },
          axes: [
            { ...axis(xLabel, xTicks), grid: { show: false }, space: isTime ? 95 : 50 },
            {
              ...axis(yLabel, yTicks ?? ((value) => format.number(value, Number.isInteger(value) ? 0 : 1))),
              ...(yAt ? { splits: [...yAt], size: 72 } : {}),
            },
          ],
          series: [{}, { show: true, paths: () => null, points: { show: false } }],
          ...(isTime ? { tzDate: (seconds: number) => new Date(seconds * 1000) } : {}),
          hooks: {
            draw: [
              (u) => {
                const { ctx, bbox } = u;
                ctx.save();
                ctx.beginPath();
                ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
                ctx.clip();
                draw.current(penOf(u, inks), { min: u.scales['x']?.min ?? x.min, max: u.scales['x']?.max ?? x.max });
                ctx.restore();
              },
            ],
            setScale: [
              (u, key) => {
                const { min = x.min, max = x.max } = u.scales[key] ?? {};
                if (key === 'x') setIsZoomed(max - min < (x.max - x.min) * 0.999);
              },
            ],
          },
        },
        [
          [x.min, x.max],
          [y.min, y.max],
        ],
        at,
      );
      plot.current.setScale('x', first);
      observer ??= new ResizeObserver(() => plot.current?.setSize({ width: at.clientWidth, height }));
      observer.observe(at);
    };
    const again = (): void => void make();
    void make();
    dark.addEventListener('change', again);
    return () => {
      isWanted = false;
      dark.removeEventListener('change', again);
      observer?.disconnect();
      plot.current?.destroy();
      plot.current = undefined;
    };
  }, [x.min, x.max, y.min, y.max, start?.min, start?.max, language, height]);
  useEffect(() => plot.current?.redraw(false));

  const show = (span: Span): void => plot.current?.setScale('x', { min: span.min, max: span.max });
  const press = (event: KeyboardEvent): void => {
    const key = ZOOM_KEYS.find((k) => k === event.key);
    const { min, max } = plot.current?.scales['x'] ?? {};
    if (!key || event.ctrlKey || event.metaKey || event.altKey || min === undefined || max === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    show(afterKey(key, { min, max }, x, least));
  };
  return (
    <figure class="chart">
      <div
        ref={place}
        role="img"
        aria-label={says}
        // biome-ignore lint/a11y/noNoninteractiveTabindex: it is zoomed by keys
        tabIndex={0}
        onKeyDown={press}
        class="canvas"
        style={{ height: `${height}px` }}
      />
      <div class="actions no-print">
        {spans.map(({ says: label, length }) => (
          <button key={label} type="button" onClick={() => show({ min: Math.max(x.min, x.max - length), max: x.max })}>
            {label}
          </button>
        ))}
        {isZoomed || spans.length > 0 ? (
          <button type="button" onClick={() => show(x)}>
            {words.shell.showAll}
          </button>
        ) : null}
      </div>
    </figure>
  );
}
