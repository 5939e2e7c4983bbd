/** Strip lots: which are in use, entering one, and whether a later lot reads differently. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { MetersPage } from '../../api/house.ts';
import { put } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { shiftSentences } from './shift-sentences.ts';

export function Strips({ report }: { readonly report: MetersPage }): JSX.Element {
  const { words, format } = useHere();
  const { lots, unused } = report;
  const { lotColumns: columns } = words.meters;
  const shifts = shiftSentences(report.shifts, words, format);
  const rows = [
    ...lots.map((l) => ({
      key: l.lot,
      cells: [
        l.lot,
        words.meters.lotState[l.state],
        l.registered?.expiry ?? words.meters.notTold,
        `${format.shortDay(l.firstAt)} – ${format.shortDay(l.lastAt)}`,
        l.tests,
        l.people,
        format.number(l.median),
      ],
    })),
    ...unused.map((l) => ({
      key: l.lot,
      cells: [l.lot, words.meters.lotState[l.state], l.expiry ?? words.meters.notTold, words.meters.notUsed, 0, 0, ''],
    })),
  ];
  return (
    <section>
      <h2>{words.meters.strips}</h2>
      {rows.length === 0 ? (
        <p>{words.meters.noLots}</p>
      ) : (
        <Table
          name={words.meters.strips}
          heads={[
            { says: columns.lot },
            { says: columns.state },
            { says: columns.expiry },
            { says: columns.used },
            { says: columns.tests, isNumber: true },
            { says: columns.people, isNumber: true },
            { says: `${columns.median} ${report.analyte}`, isNumber: true },
          ]}
          rows={rows}
        />
      )}
      <p class="mid">{words.meters.lotAbout}</p>
      <RegisterLot />
      <h3>{words.meters.shifts}</h3>
      {shifts.length === 0 ? <p>{words.meters.noShifts}</p> : null}
      {shifts.map(({ says, isShift }) => (
        <p key={says} class={isShift ? 'needs-you' : undefined}>
          {says}
        </p>
      ))}
      <p class="mid">{words.meters.shiftAbout}</p>
    </section>
  );
}

const EMPTY = { lot: '', expiry: '', code: '', isi: '', mnpt: '' };

function RegisterLot(): JSX.Element | null {
  const { words } = useHere();
  const say = useSay();
  const [isOpen, setIsOpen] = useState(false);
  const [given, setGiven] = useState(EMPTY);
  const field = (key: keyof typeof EMPTY) => ({
    value: given[key],
    onInput: (value: string) => setGiven((g) => ({ ...g, [key]: value })),
  });
  if (!useMay('work')) return null;
  if (!isOpen)
    return (
      <p class="no-print">
        <button type="button" onClick={() => setIsOpen(true)}>
          {words.meters.register}
        </button>
      </p>
    );
  const send = async (): Promise<void> => {
    await put('/api/lots', Object.fromEntries(Object.entries(given).filter(([, value]) => value.trim() !== '')));
    say(words.meters.lotSaved(given.lot));
    setGiven(EMPTY);
    setIsOpen(false);
  };
  return (
    <Form onSend={send} send={words.shell.save} onCancel={() => setIsOpen(false)} cancel={words.shell.cancel}>
      <Field label={words.meters.lotNumber} isRequired {...field('lot')} />
      <Field label={words.meters.lotExpiry} {...field('expiry')} />
      <Field label={words.meters.lotCode} {...field('code')} />
      <Field label={words.meters.lotIsi} {...field('isi')} />
      <Field label={words.meters.lotMnpt} {...field('mnpt')} />
    </Form>
  );
}
