/** All people, one of them, or a day's appointments. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import { addressOf, type Route } from '../router.ts';
import { APPOINTMENTS, AppointmentsPage } from './appointments-page.tsx';
import { PeopleList } from './people-list.tsx';
import { PersonSheet } from './person-sheet.tsx';

export function PeoplePage({ route }: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  const [id, day] = route.parts;
  if (id === undefined) return <PeopleList />;
  if (id === APPOINTMENTS) return <AppointmentsPage day={day} />;
  return (
    <>
      <p class="no-print">
        <a href={addressOf('people')}>{words.people.back}</a>
      </p>
      <PersonSheet key={id} id={id} isShort={false} />
    </>
  );
}
