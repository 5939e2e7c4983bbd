/** The cards: the first is open with its question, its evidence and its keys. */
import type { JSX } from 'preact';
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { WaitingList } from '../../api/waiting.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { useKeys } from '../parts/keys.ts';
import { Show } from '../parts/loaded.tsx';
import { addressOf } from '../router.ts';
import { cardsOf, meterFirst, questionOf } from './cards.ts';
import { OpenCard } from './open-card.tsx';
import './waiting.css';

/** So many closed cards stand on the dock page. */
const SHORT = 5;

interface WaitingCardsOptions {
  readonly isShort: boolean;
  /** The meter of which the readings are asked first. */
  readonly meterId?: string | undefined;
}

export function WaitingCards({ isShort, meterId }: WaitingCardsOptions): JSX.Element {
  const loaded = useData<WaitingList>(`/api/waiting?limit=${isShort ? 60 : 300}`);
  return (
    <section class="waiting">
      <Show loaded={loaded}>{(list) => <Cards list={list} isShort={isShort} meterId={meterId} />}</Show>
    </section>
  );
}

function Cards({ list, isShort, meterId }: WaitingCardsOptions & { readonly list: WaitingList }): JSX.Element {
  const { words, format } = useHere();
  const { waiting: w } = words;
  const [apart, setApart] = useState<readonly string[]>([]);
  const all = meterFirst(cardsOf(list.items, apart), meterId);
  /** Cards that were put off stand at the end, in the order in which they were. */
  const [later, setLater] = useState<readonly string[]>([]);
  const [chosen, setChosen] = useState<string>();
  const top = useRef<HTMLDivElement>(null);
  const cards = [
    ...all.filter((c) => !later.includes(c.key)),
    ...later.flatMap((key) => all.filter((c) => c.key === key)),
  ];
  const at = Math.max(
    0,
    cards.findIndex((c) => c.items.some((i) => i.readingId === chosen)),
  );
  const open = cards[at];
  const openKey = open?.key;
  const before = useRef(openKey);
  useEffect(() => {
    // What came first stays open when others come: her Enter answers the question that she has read.
    if (openKey !== undefined && chosen !== openKey) setChosen(openKey);
  }, [openKey, chosen]);
  useLayoutEffect(() => {
    // After an answer the next card is where her eyes are; at the first sight nothing jumps.
    if (before.current !== undefined && before.current !== openKey) top.current?.focus();
    before.current = openKey;
  }, [openKey]);
  const move = (by: number): void => setChosen(cards[Math.min(Math.max(0, at + by), cards.length - 1)]?.key);
  useKeys({ j: () => move(1), k: () => move(-1), ArrowDown: () => move(1), ArrowUp: () => move(-1) });
  if (!open) return <p>{isShort ? words.dock.nothingWaits : w.empty}</p>;
  const putOff = (): void => {
    setLater((keys) => [...keys.filter((key) => key !== open.key), open.key]);
    setChosen(cards[at + 1]?.key ?? cards[0]?.key);
  };
  const next = (): void => setChosen(cards[at + 1]?.key);
  const shown = isShort ? cards.slice(0, Math.max(SHORT, at + 1)) : cards;
  return (
    <>
      <h2>{format.count(list.total, isShort ? words.dock.waiting : w.count)}</h2>
      {shown.map((card) =>
        card === open ? (
          <div key={card.key} ref={top} tabIndex={-1}>
            <OpenCard
              card={card}
              onLater={putOff}
              onDone={next}
              onApart={() => setApart((ids) => [...ids, ...card.items.map((i) => i.readingId)])}
            />
          </div>
        ) : (
          <button key={card.key} type="button" class="card rest" onClick={() => setChosen(card.key)}>
            {questionOf(card, words, format)}
          </button>
        ),
      )}
      {isShort && cards.length > shown.length ? (
        <p>
          <a href={addressOf('waiting')}>{w.all}</a>
        </p>
      ) : null}
    </>
  );
}
