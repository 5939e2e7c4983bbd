/** All people, or one of them. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import { addressOf, type Route } from '../router.ts';
import { PeopleList } from './people-list.tsx';
import { PersonSheet } from './person-sheet.tsx';

export function PeoplePage({ route }: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  const [id] = route.parts;
  if (id === undefined) return <PeopleList />;
  return (
    <>
      <p class="no-print">
        <a href={addressOf('people')}>{words.people.back}</a>
      </p>
      <PersonSheet key={id} id={id} isShort={false} />
    </>
  );
}
