/** One open card: the question, the evidence, and at most three answers, each with its key. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { PersonName } from '../../api/live.ts';
import type { Decide } from '../../api/waiting.ts';
import { post, Refusal } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useAct } from '../parts/act.tsx';
import { useKeys } from '../parts/keys.ts';
import { useSay } from '../parts/said.tsx';
import { spanWords } from '../people/value-words.ts';
import { addressOf } from '../router.ts';
import { type Answer, answersOf, type Card, questionOf, usualReasons } from './cards.ts';
import { evidenceOf } from './evidence.ts';
import { FindPerson } from './find-person.tsx';
import { GiveReason } from './give-reason.tsx';

const KEYS: Readonly<Record<Answer, string>> = { confirm: 'Enter', whose: 'E', release: 'R', 'strike-out': 'X' };

export function OpenCard({
  card,
  onLater,
  onDone,
  onApart,
}: {
  readonly card: Card;
  readonly onLater: () => void;
  readonly onDone: () => void;
  /** Each reading of the card shall be asked by itself. */
  readonly onApart: () => void;
}): JSX.Element {
  const { words, format } = useHere();
  const { waiting: w, terms } = words;
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const [asking, setAsking] = useState<Answer>();
  const [isOpen, setIsOpen] = useState(false);
  const mayWork = useMay('work');
  const [first] = card.items;
  const readings = card.items.map((i) => i.readingId);
  const counted = format.count(readings.length, terms.readings);
  const answers = answersOf(card);

  const decide = (path: string, body: Omit<Decide, 'readings'>, says: string): Promise<boolean> =>
    run(async () => {
      try {
        await post(path, { readings, ...body } satisfies Decide);
        say(says, () => post('/api/readings/undo', { readings, reason: words.shell.undo }));
      } catch (thrown) {
        if (!(thrown instanceof Refusal) || thrown.code !== 'NOT_POSSIBLE') throw thrown;
        say(w.gone);
      }
      setAsking(undefined);
      onDone();
    });
  const assign = (person: PersonName | null, reason: string): Promise<boolean> =>
    decide(
      '/api/readings/assign',
      { patientId: person?.id ?? null, reason },
      person ? w.done.assigned(counted, format.person(person)) : w.done.nobody(counted),
    );
  const act = (answer: Answer): unknown => {
    if (isBusy) return undefined;
    if (answer === 'confirm') return first.proposed && assign(first.proposed, w.confirmedByList);
    return setAsking(answer);
  };
  const says = (answer: Answer): string => {
    if (answer === 'confirm') return w.act.confirm(first.proposed ? format.person(first.proposed) : '');
    if (answer === 'whose') return first.proposed ? w.act.someone : w.act.whose;
    return answer === 'release' ? w.act.release : w.act.strikeOut;
  };
  const keyActs = Object.fromEntries(
    answers.map((a) => [KEYS[a].length === 1 ? KEYS[a].toLowerCase() : KEYS[a], () => act(a)]),
  );
  const [main] = answers;
  useKeys(
    asking === undefined && mayWork
      ? { ...(main ? { Enter: () => act(main) } : {}), ...keyActs, l: onLater }
      : asking === undefined
        ? { l: onLater }
        : {},
  );
  return (
    <div class="card asks">
      {card.isCritical ? <p class="needs-you">{w.critical}</p> : null}
      <p>
        <b>{questionOf(card, words, format)}</b>
      </p>
      <ul>
        {evidenceOf(first, words, format).map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
      {card.items.length > 1 && isOpen ? (
        <ul>
          {card.items.map((item) => (
            <li key={item.readingId}>
              {item.values.length > 0 ? format.values(item.values) : terms.kind[item.kind]},{' '}
              {spanWords(item.time, words, format)}
            </li>
          ))}
        </ul>
      ) : null}
      {asking === 'whose' ? (
        <FindPerson onFound={(person) => assign(person, w.reasons.asked)} onCancel={() => setAsking(undefined)} />
      ) : asking !== undefined && asking !== 'confirm' ? (
        <GiveReason
          reasons={usualReasons(card, asking, words)}
          send={says(asking)}
          onGiven={(reason) =>
            asking === 'release'
              ? decide('/api/readings/release', { reason }, w.done.released(counted))
              : decide('/api/readings/strike-out', { reason }, w.done.struck(counted))
          }
          onCancel={() => setAsking(undefined)}
        />
      ) : (
        <p class="actions">
          {mayWork
            ? answers.map((answer, i) => (
                <button
                  key={answer}
                  type="button"
                  class={i === 0 ? 'first' : undefined}
                  aria-disabled={isBusy}
                  onClick={() => act(answer)}
                >
                  {says(answer)} <kbd>{i === 0 ? w.keys.enter : KEYS[answer]}</kbd>
                </button>
              ))
            : null}
          <button type="button" onClick={onLater}>
            {w.act.later} <kbd>L</kbd>
          </button>
          {card.items.length > 1 ? (
            <>
              <button type="button" class="quiet" onClick={() => setIsOpen(!isOpen)}>
                {isOpen ? w.act.close : w.act.open(counted)}
              </button>
              <button type="button" class="quiet" onClick={onApart}>
                {w.act.apart}
              </button>
            </>
          ) : null}
        </p>
      )}
      {first.person && asking === undefined ? (
        <p>
          <a href={addressOf('people', first.person.id)}>{format.person(first.person)}</a>
        </p>
      ) : null}
      {problem}
    </div>
  );
}
