/** Who may use the desk, the docks, the outlets, backups; each by the role of whoever looks. */
import type { JSX } from 'preact';
import type { Role } from '../../api/state.ts';
import { useHere, useMay } from '../here.ts';
import { addressOf, type Route } from '../router.ts';
import { Backups } from './backups.tsx';
import { Docks } from './docks.tsx';
import { Me } from './me.tsx';
import { Operators } from './operators.tsx';
import { Outlets } from './outlets.tsx';
import './setup.css';

const PARTS = ['me', 'operators', 'docks', 'outlets', 'backups'] as const;
type Part = (typeof PARTS)[number];

const SHOWN: Readonly<Record<Part, () => JSX.Element>> = {
  me: Me,
  operators: Operators,
  docks: Docks,
  outlets: Outlets,
  backups: Backups,
};
const NEEDS: Readonly<Record<Part, Role>> = {
  me: 'look',
  operators: 'manage',
  docks: 'manage',
  outlets: 'look',
  backups: 'look',
};

export function SettingsPage({ route }: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  const mayManage = useMay('manage');
  const offered = PARTS.filter((part) => mayManage || NEEDS[part] === 'look');
  const shown = offered.find((part) => part === route.parts[0]) ?? 'me';
  const Shown = SHOWN[shown];
  return (
    <div class="settings">
      <h1>{words.shell.pages.settings}</h1>
      <nav class="parts no-print" aria-label={words.shell.pages.settings}>
        {offered.map((part) => (
          <a key={part} href={addressOf('settings', part)} aria-current={part === shown ? 'page' : undefined}>
            {words.setup.settings.parts[part]}
          </a>
        ))}
      </nav>
      <Shown />
    </div>
  );
}
