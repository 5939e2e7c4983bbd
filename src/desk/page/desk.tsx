/** The whole page: who is there, the line at the top, the page that the address names, what was just done. */
import type { JSX } from 'preact';
import { useCallback, useEffect, useState } from 'preact/hooks';
import type { DeskState } from '../api/state.ts';
import { get, onLocked, post } from './call.ts';
import { ControlsPage } from './controls/controls-page.tsx';
import { DockPage } from './dock/dock-page.tsx';
import { makeFormat } from './format.ts';
import { HereContext } from './here.ts';
import { LiveProvider } from './live.tsx';
import { MetersPage } from './meters/meters-page.tsx';
import { MonthPage } from './month/month-page.tsx';
import { Footer } from './parts/footer.tsx';
import { Header } from './parts/header.tsx';
import { SaidProvider } from './parts/said.tsx';
import { PeoplePage } from './people/people-page.tsx';
import { type Route, useRoute } from './router.ts';
import { FirstRun } from './setup/first-run.tsx';
import { SettingsPage } from './setup/settings-page.tsx';
import { SignIn } from './setup/sign-in.tsx';
import { useIdleLock } from './setup/use-idle-lock.ts';
import { WaitingPage } from './waiting/waiting-page.tsx';
import { type Language, rememberLanguage, startLanguage, WORDS } from './words.ts';

const PAGES: Readonly<Record<Route['page'], (props: { readonly route: Route }) => JSX.Element>> = {
  dock: DockPage,
  waiting: WaitingPage,
  people: PeoplePage,
  meters: MetersPage,
  controls: ControlsPage,
  month: MonthPage,
  settings: SettingsPage,
};

export function Desk(): JSX.Element {
  const [language, setLanguage] = useState<Language>(startLanguage);
  const [state, setState] = useState<DeskState>();
  const [isAway, setIsAway] = useState(false);
  const route = useRoute();
  const words = WORDS[language];

  const ask = useCallback(async () => {
    try {
      setState(await get<DeskState>('/api/state'));
      setIsAway(false);
    } catch {
      setIsAway(true);
    }
  }, []);
  useEffect(() => void ask(), [ask]);
  useEffect(() => {
    if (!isAway) return;
    const timer = setTimeout(ask, 2000);
    return () => clearTimeout(timer);
  });
  // Somebody locked the desk, or the daemon was started again: what is on the screen goes, the address stays.
  useEffect(() => onLocked(() => setState((s) => s && withoutOperator(s))), []);
  useEffect(() => {
    document.documentElement.lang = language;
  }, [language]);
  const lock = useCallback(async () => {
    await post('/api/sign-out', {}).catch(() => {}); // locked on the screen all the same
    setState((s) => s && withoutOperator(s));
  }, []);
  useIdleLock(state?.operator ? state.idleMinutes : undefined, lock);

  const choose = (chosen: Language): void => {
    rememberLanguage(chosen);
    setLanguage(chosen);
  };
  if (!state) return <main class="alone">{isAway ? <p role="status">{words.shell.away}</p> : null}</main>;
  const here = {
    words,
    language,
    state,
    format: makeFormat(language, state.zone, words),
    refresh: ask,
    lock,
    choose,
  };
  const Page = PAGES[route.page];
  return (
    <HereContext.Provider value={here}>
      {state.isFirstRun ? (
        <FirstRun onDone={setState} />
      ) : state.operator ? (
        <LiveProvider>
          <SaidProvider>
            <Header route={route} />
            <main id="main" tabIndex={-1}>
              <Page route={route} />
            </main>
          </SaidProvider>
        </LiveProvider>
      ) : (
        <SignIn onDone={setState} />
      )}
      <Footer />
    </HereContext.Provider>
  );
}

const withoutOperator = ({ operator: _, ...rest }: DeskState): DeskState => rest;
