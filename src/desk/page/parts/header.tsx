/** The line at the top: the clinic, the pages, who is signed in. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import { useLive } from '../live.tsx';
import { addressOf, type PageName, type Route } from '../router.ts';

const SHOWN: readonly PageName[] = ['dock', 'waiting', 'people', 'meters', 'controls', 'month'];

export function Header({ route }: { readonly route: Route }): JSX.Element {
  const { words, state, format, lock } = useHere();
  const { status, isConnected } = useLive();
  const waiting = status?.waiting ?? 0;
  return (
    <header class="top no-print">
      <button type="button" class="skip" onClick={skip}>
        {words.shell.skip}
      </button>
      <b class="clinic">{state.clinic ?? 'tallydock'}</b>
      <nav aria-label="tallydock">
        {SHOWN.map((page) => (
          <a key={page} href={addressOf(page)} aria-current={route.page === page ? 'page' : undefined}>
            {words.shell.pages[page]}
            {page === 'waiting' && waiting > 0 ? <span class="count">{waiting}</span> : null}
          </a>
        ))}
      </nav>
      <span class="who">
        <span>{state.operator?.name}</span>
        <a href={addressOf('settings')} aria-current={route.page === 'settings' ? 'page' : undefined}>
          {words.shell.pages.settings}
        </a>
        <button type="button" class="quiet" onClick={lock}>
          {words.shell.lock}
        </button>
      </span>
      {isConnected ? null : (
        <p class="needs-you away" role="status">
          {words.shell.away}
        </p>
      )}
      {status?.warnings.map((warning) => (
        <p key={warning} class="needs-you" role="status">
          {warning}
        </p>
      ))}
      <span class="only-print">{format.moment(Date.now())}</span>
    </header>
  );
}

function skip(): void {
  document.getElementById('main')?.focus();
}
