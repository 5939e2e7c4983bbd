/** Control materials: each level with its limits, and entering one. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { ControlsPage } from '../../api/house.ts';
import { put } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { Field, Form } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';

export function Levels(): JSX.Element {
  const loaded = useData<ControlsPage>('/api/controls');
  return <Show loaded={loaded}>{({ levels }) => <List levels={levels} />}</Show>;
}

function List({ levels }: { readonly levels: ControlsPage['levels'] }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const { levelColumns: columns } = w;
  return (
    <>
      <p class="mid">{w.levelsAbout}</p>
      {levels.length === 0 ? (
        <p>{w.noLevels}</p>
      ) : (
        <Table
          name={w.parts.levels}
          heads={[
            { says: columns.lot },
            { says: columns.level },
            { says: columns.analyte },
            { says: columns.kind },
            { says: columns.target },
            { says: columns.expiry },
          ]}
          rows={levels.map((l) => ({
            key: String(l.levelNo),
            cells: [
              l.lot,
              l.level,
              l.analyte,
              w.kind[l.kind],
              l.mean !== undefined && l.sd !== undefined
                ? w.meanSd(format.decimal(l.mean), format.decimal(l.sd))
                : w.range(format.decimal(l.low ?? ''), format.decimal(l.high ?? '')),
              l.expiry ?? words.meters.notTold,
            ],
          }))}
        />
      )}
      <EnterLevel />
    </>
  );
}

const EMPTY = { lot: '', level: '', mean: '', sd: '', low: '', high: '', expiry: '' };

function EnterLevel(): JSX.Element | null {
  const { words } = useHere();
  const { controls: w } = words;
  const say = useSay();
  const [isOpen, setIsOpen] = useState(false);
  const [given, setGiven] = useState(EMPTY);
  const [kind, setKind] = useState<'liquid' | 'electronic'>('liquid');
  const field = (key: keyof typeof EMPTY) => ({
    label: w.field[key],
    value: given[key],
    onInput: (value: string) => setGiven((g) => ({ ...g, [key]: value })),
  });
  if (!useMay('work')) return null;
  if (!isOpen)
    return (
      <p>
        <button type="button" onClick={() => setIsOpen(true)}>
          {w.enter}
        </button>
      </p>
    );
  const send = async (): Promise<void> => {
    const filled = Object.fromEntries(
      Object.entries(given).flatMap(([key, value]) => (value.trim() === '' ? [] : [[key, value.trim()]])),
    );
    await put('/api/controls/levels', { ...filled, kind });
    say(w.saved(given.lot, given.level));
    setGiven(EMPTY);
    setIsOpen(false);
  };
  return (
    <Form onSend={send} send={words.shell.save} onCancel={() => setIsOpen(false)} cancel={words.shell.cancel}>
      <Field isRequired {...field('lot')} />
      <Field isRequired {...field('level')} />
      <label class="field">
        <span>{w.field.kind}</span>
        <select value={kind} onChange={(e) => setKind(e.currentTarget.value === 'liquid' ? 'liquid' : 'electronic')}>
          <option value="liquid">{w.kind.liquid}</option>
          <option value="electronic">{w.kind.electronic}</option>
        </select>
      </label>
      <Field {...field('mean')} />
      <Field {...field('sd')} />
      <Field {...field('low')} />
      <Field {...field('high')} />
      <Field {...field('expiry')} />
    </Form>
  );
}
