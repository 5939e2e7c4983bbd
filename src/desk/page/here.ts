/** What every part of the page knows: its words and formats, who is signed in, how to lock. */
import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import type { DeskState, Role } from '../api/state.ts';
import type { Format } from './format.ts';
import type { Language, Words } from './words.ts';

export interface Here {
  readonly words: Words;
  readonly language: Language;
  readonly state: DeskState;
  readonly format: Format;
  /** Asks for the state again. */
  readonly refresh: () => Promise<void>;
  readonly lock: () => Promise<void>;
  readonly choose: (language: Language) => void;
}

export const HereContext = createContext<Here | undefined>(undefined);

/** What is known here. Throws outside the desk. */
export function useHere(): Here {
  const here = useContext(HereContext);
  if (!here) throw new Error('a part of the desk stands outside of it');
  return here;
}

const RANK: Readonly<Record<Role, number>> = { look: 0, work: 1, manage: 2 };

/** True where whoever is signed in may do what needs this role. */
export function useMay(role: Role): boolean {
  const { operator } = useHere().state;
  return operator !== undefined && RANK[operator.role] >= RANK[role];
}
