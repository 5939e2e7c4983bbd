/** What the server tells by itself: the docks at once, and that something in the store is new. One connection a page. */
import { type ComponentChildren, createContext, type JSX } from 'preact';
import { useContext, useEffect, useState } from 'preact/hooks';
import type { DeskChanged, DeskStatus } from '../api/live.ts';
import { get, Refusal } from './call.ts';

export interface Live {
  /** Absent until the first event. */
  readonly status?: DeskStatus;
  /** Grows when something in the store is new. */
  readonly changes: number;
  /** False while the daemon does not answer. */
  readonly isConnected: boolean;
}

const LiveContext = createContext<Live>({ changes: 0, isConnected: true });

/** The docks and the store as they are now. */
export const useLive = (): Live => useContext(LiveContext);

export function LiveProvider({ children }: { readonly children: ComponentChildren }): JSX.Element {
  const [live, setLive] = useState<Live>({ changes: 0, isConnected: true });
  useEffect(() => {
    const source = new EventSource('/api/live');
    source.addEventListener('status', (event) => {
      const status = JSON.parse(event.data) as DeskStatus;
      setLive((l) => ({ ...l, status, isConnected: true }));
    });
    source.addEventListener('changed', (event) => {
      const { n } = JSON.parse(event.data) as DeskChanged;
      // After a restart the numbers begin again: any other number means news.
      setLive((l) => (l.changes === n ? l : { ...l, changes: n }));
    });
    source.addEventListener('error', () => {
      setLive((l) => ({ ...l, isConnected: false }));
      // A browser gives up for good where the answer is a refusal: then the state says whether it is a locked desk.
      if (source.readyState === EventSource.CLOSED) void get('/api/dock').catch(() => {}); // call.ts tells of the lock
    });
    return () => source.close();
  }, []);
  return <LiveContext.Provider value={live}>{children}</LiveContext.Provider>;
}

/** What a page shows: loading, there, or why not. */
export interface Loaded<T> {
  readonly data?: T;
  readonly refusal?: Refusal;
  /** Asks again now. */
  readonly again: () => void;
}

/** Asks for `path` now and whenever something in the store is new; what was there stays until the new answer has come. */
export function useData<T>(path: string | undefined): Loaded<T> {
  const { changes } = useLive();
  const [asked, setAsked] = useState(0);
  const [found, setFound] = useState<{ readonly path?: string; readonly data?: T; readonly refusal?: Refusal }>({});
  useEffect(() => {
    if (path === undefined) return;
    let isWanted = true;
    get<T>(path).then(
      (data) => isWanted && setFound({ path, data }),
      (thrown: unknown) =>
        isWanted &&
        setFound((f) => ({
          path,
          ...(f.path === path && f.data !== undefined ? { data: f.data } : {}),
          refusal: thrown instanceof Refusal ? thrown : new Refusal('INTERNAL', String(thrown), ''),
        })),
    );
    return () => {
      isWanted = false;
    };
  }, [path, changes, asked]);
  const isThis = found.path === path;
  return {
    ...(isThis && found.data !== undefined ? { data: found.data } : {}),
    ...(isThis && found.refusal ? { refusal: found.refusal } : {}),
    again: () => setAsked((n) => n + 1),
  };
}
