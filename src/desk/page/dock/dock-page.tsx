/** What is on the dock now, what waits for me, how this person is doing. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { DeskDock, PersonName } from '../../api/live.ts';
import { useHere } from '../here.ts';
import { useLive } from '../live.tsx';
import { Tally } from '../parts/tally.tsx';
import type { TallyFacts } from '../parts/tally-strokes.ts';
import { PersonSheet } from '../people/person-sheet.tsx';
import { addressOf, type Route } from '../router.ts';
import { WaitingCards } from '../waiting/waiting-cards.tsx';
import './dock.css';
import { dockSentences, isEmpty } from './dock-words.ts';

export function DockPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  const { status } = useLive();
  const newest = newestPerson(status?.docks ?? []);
  const shown = useShownPerson(newest);
  const behind = (status?.outlets ?? []).filter((o) => o.trouble || o.setAside > 0).map((o) => o.name);
  return (
    <>
      <h1 class="unseen">{words.dock.heading}</h1>
      {status && status.docks.length === 0 ? (
        <p>
          {words.dock.none} <a href={addressOf('settings')}>{words.dock.assign}</a>
        </p>
      ) : null}
      <div class="docks">
        {status?.docks.map((dock) => (
          <DockTile key={dock.name} dock={dock} />
        ))}
      </div>
      {behind.length > 0 ? <p class="needs-you">{words.dock.outlets(behind.join(', '))}</p> : null}
      <div class="beside">
        <WaitingCards isShort />
        <section>
          {shown ? <PersonSheet key={shown.id} id={shown.id} isShort /> : <p class="mid">{words.dock.noPerson}</p>}
        </section>
      </div>
    </>
  );
}

function DockTile({ dock }: { readonly dock: DeskDock }): JSX.Element {
  const { words, format } = useHere();
  const { dock: w } = words;
  const idle = isEmpty(dock);
  const facts = tallyOf(dock);
  const id = dock.meter?.id;
  return (
    <section class={`dock-tile${idle ? ' idle' : ''}`} aria-label={dock.name}>
      <h2>
        {idle || id === undefined ? dock.name : w.meter(dock.name, id)}
        <span>
          {idle ? w.empty : dock.person ? w.lentTo(format.person(dock.person)) : id === undefined ? '' : w.shared}
        </span>
      </h2>
      {facts && !idle ? <Tally facts={facts} /> : null}
      <div aria-live={dock.phase === 'reading' ? 'off' : 'polite'}>
        {dockSentences(dock, words, format).map(({ says, needsYou }) => (
          <p key={says} class={needsYou ? 'needs-you' : undefined}>
            {says}
          </p>
        ))}
      </div>
    </section>
  );
}

/** The tally of what is being read, or of what the last download came to. */
function tallyOf({ phase, read, held, last, meter }: DeskDock): TallyFacts | undefined {
  if (phase === 'reading' || phase === 'storing')
    return { places: [], read: read ?? 0, open: Math.max(0, (held ?? 0) - (read ?? 0)), isTorn: false };
  if (!last || (meter && last.meterId !== meter.id)) return undefined;
  return { places: last.tally, read: 0, open: last.open, isTorn: last.isTorn };
}

/** Whoever has the meter that was read last. */
function newestPerson(docks: readonly DeskDock[]): (PersonName & { readonly at: number }) | undefined {
  return docks
    .flatMap(({ last }) => (last?.person ? [{ ...last.person, at: last.at }] : []))
    .sort((a, b) => b.at - a.at)[0];
}

/** The person that is shown: that of each new download, but not while somebody is typing. */
function useShownPerson(newest: (PersonName & { readonly at: number }) | undefined): PersonName | undefined {
  const [shown, setShown] = useState<PersonName | undefined>(newest);
  const seen = useRef<number>(0);
  useEffect(() => {
    if (!newest || newest.at === seen.current) return;
    if (document.activeElement?.matches('input, textarea, select')) return;
    seen.current = newest.at;
    setShown(newest);
  });
  return shown;
}
