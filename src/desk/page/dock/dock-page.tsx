/** What is on the dock now, what waits for me, how this person is doing. */
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { DeskDock, LastDownload, PersonName } from '../../api/live.ts';
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
  const { words, format } = useHere();
  const { status } = useLive();
  const read = downloads(status?.docks ?? []);
  const [newest] = read;
  const { shown, offered, show } = useShownPerson(read.find((d) => d.person));
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
        <WaitingCards isShort meterId={newest && !newest.person ? newest.meterId : undefined} />
        <section>
          {offered ? (
            <p>
              <button type="button" onClick={show}>
                {words.dock.newest(format.person(offered))}
              </button>
            </p>
          ) : null}
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
  const sentences = dockSentences(dock, words, format);
  return (
    <section class={`dock-tile${idle ? ' idle' : ''}`} aria-label={dock.name}>
      <h2>
        {idle || id === undefined ? dock.name : w.meter(dock.name, id)}
        <span>
          {idle ? w.empty : dock.person ? w.lentTo(format.person(dock.person)) : id === undefined ? '' : w.shared}
        </span>
      </h2>
      {facts && !idle ? <Tally facts={facts} /> : null}
      {sentences
        .filter((s) => !s.isNews)
        .map(({ says }) => (
          <p key={says}>{says}</p>
        ))}
      <div aria-live="polite">
        {sentences
          .filter((s) => s.isNews)
          .map(({ says, needsYou }) => (
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

/** What was read at the docks, the newest first. */
const downloads = (docks: readonly DeskDock[]): LastDownload[] =>
  docks.flatMap(({ last }) => (last ? [last] : [])).sort((a, b) => b.at - a.at);

/** The person of the newest download of a lent meter; while somebody is typing that person is only offered. */
function useShownPerson(newest: LastDownload | undefined): {
  readonly shown: PersonName | undefined;
  readonly offered: PersonName | undefined;
  readonly show: () => void;
} {
  const [shown, setShown] = useState<PersonName>();
  const [offered, setOffered] = useState<PersonName>();
  const showPerson = (person: PersonName | undefined): void => {
    setShown(person);
    setOffered(undefined);
  };
  useEffect(() => {
    if (document.activeElement?.matches('input, textarea, select')) setOffered(newest?.person);
    else showPerson(newest?.person);
  }, [newest?.at]);
  return { shown, offered: offered?.id === shown?.id ? undefined : offered, show: () => showPerson(offered) };
}
