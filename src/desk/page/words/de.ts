/** German. Each text says the same as its English one. */
import type { Words } from '../words.ts';
import { controls } from './de/controls.ts';
import { dock } from './de/dock.ts';
import { faults } from './de/faults.ts';
import { meters } from './de/meters.ts';
import { month } from './de/month.ts';
import { people } from './de/people.ts';
import { setup } from './de/setup.ts';
import { shell } from './de/shell.ts';
import { terms } from './de/terms.ts';
import { waiting } from './de/waiting.ts';

export const de = { shell, terms, faults, dock, waiting, people, meters, controls, month, setup } satisfies Words;
