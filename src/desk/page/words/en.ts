/** English. */
import { controls } from './en/controls.ts';
import { dock } from './en/dock.ts';
import { faults } from './en/faults.ts';
import { meters } from './en/meters.ts';
import { month } from './en/month.ts';
import { people } from './en/people.ts';
import { setup } from './en/setup.ts';
import { shell } from './en/shell.ts';
import { terms } from './en/terms.ts';
import { waiting } from './en/waiting.ts';

export const en = { shell, terms, faults, dock, waiting, people, meters, controls, month, setup };
