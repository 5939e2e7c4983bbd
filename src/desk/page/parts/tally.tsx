/** Our picture of a download: a row of strokes, one a test. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { useHere } from '../here.ts';
import './tally.css';
import { type TallyFacts, tallyStrokes, tallyUses } from './tally-strokes.ts';

const BUNDLE = 29;

export function Tally({ facts }: { readonly facts: TallyFacts }): JSX.Element {
  const { words } = useHere();
  const place = useRef<HTMLDivElement>(null);
  const [bundles, setBundles] = useState(20);
  useEffect(() => {
    const at = place.current;
    if (!at) return;
    const measure = (): void => setBundles(Math.max(3, Math.floor((at.clientWidth - 14) / BUNDLE)));
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(at);
    return () => observer.disconnect();
  }, []);
  const { strokes, width, height } = tallyStrokes(facts, bundles);
  const uses = tallyUses(facts);
  const { tally: w } = words.dock;
  const fresh = facts.places.filter((p) => p.isNew).length;
  const legend = [
    uses.isNew ? w.isNew : '',
    uses.isKnown ? w.known : '',
    uses.isRead ? w.read : '',
    uses.isControl ? w.control : '',
    uses.isError ? w.error : '',
    uses.isOpen ? w.open : '',
    uses.isTorn ? w.torn : '',
  ].filter(Boolean);
  return (
    <div ref={place} class="tally">
      <svg
        role="img"
        aria-label={w.says(String(fresh), String(facts.places.length - fresh + facts.read), String(facts.open))}
        width={width}
        height={height}
        viewBox={`0 0 ${width} ${height}`}
      >
        {facts.isTorn ? <path class="torn" d="M7 3L3 7L7 11L3 15L7 19L3 23" /> : null}
        {strokes.map((s, i) => (
          <g key={i} class={`${s.look}${s.isBroken ? ' broken' : ''}`}>
            <line x1={s.x1} y1={s.y1} x2={s.x2} y2={s.y2} />
            {s.foot ? (
              <line class="foot-stroke" x1={s.foot.x - 3} y1={s.foot.y} x2={s.foot.x + 3} y2={s.foot.y} />
            ) : null}
          </g>
        ))}
      </svg>
      {facts.places.length > 0 ? <p class="mid">{legend.join(' ')}</p> : null}
    </div>
  );
}
