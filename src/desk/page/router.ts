/** Which page the address names: `#/people/PA-10014`. The address holds ids only, never a name. */
import { useEffect, useState } from 'preact/hooks';

const PAGE_NAMES = ['dock', 'waiting', 'people', 'meters', 'controls', 'month', 'settings'] as const;
export type PageName = (typeof PAGE_NAMES)[number];

export interface Route {
  readonly page: PageName;
  /** The rest of the address, part by part, decoded. */
  readonly parts: readonly string[];
}

/** The route of an address's part behind `#`; what names no page is the dock. */
export function routeOf(hash: string): Route {
  const [first = '', ...rest] = hash.replace(/^#?\/?/, '').split('/');
  const page = PAGE_NAMES.find((name) => name === first);
  return page ? { page, parts: rest.filter((part) => part !== '').map(decoded) } : { page: 'dock', parts: [] };
}

function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

/** The address of a page. */
export const addressOf = (page: PageName, ...parts: readonly string[]): string =>
  `#/${[page, ...parts.map(encodeURIComponent)].join('/')}`;

/** Goes to a page. */
export function goTo(page: PageName, ...parts: readonly string[]): void {
  location.hash = addressOf(page, ...parts);
}

/** The route of the page's address, now and whenever it changes. */
export function useRoute(): Route {
  const [route, setRoute] = useState(() => routeOf(location.hash));
  useEffect(() => {
    const follow = (): void => {
      setRoute(routeOf(location.hash));
      document.getElementById('main')?.focus();
      window.scrollTo(0, 0);
    };
    addEventListener('hashchange', follow);
    return () => removeEventListener('hashchange', follow);
  }, []);
  return route;
}
