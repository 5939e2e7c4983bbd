/** An empty store: one question a step, each with a way back. What is asked first is entered when somebody is there to enter it. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { DeskState } from '../../api/state.ts';
import { post } from '../call.ts';
import { useHere } from '../here.ts';
import { LiveProvider } from '../live.tsx';
import { Field, Form } from '../parts/act.tsx';
import { AssignDock } from './assign-dock.tsx';
import { FirstMeter } from './first-meter.tsx';
import { checkTyped, NOTHING_TYPED, PassphraseFields } from './passphrase-fields.tsx';
import './setup.css';
import { usePorts } from './use-ports.ts';
import { ZoneField } from './zone-field.tsx';

const STEPS = ['clinic', 'zone', 'operator', 'dock', 'meter'] as const;
type Step = (typeof STEPS)[number];

export function FirstRun({ onDone }: { readonly onDone: (state: DeskState) => void }): JSX.Element {
  const { words } = useHere();
  const { firstRun: w, operator: o } = words.setup;
  const [step, setStep] = useState<Step>('clinic');
  const [clinic, setClinic] = useState('');
  const [zone, setZone] = useState(() => Intl.DateTimeFormat().resolvedOptions().timeZone);
  const [name, setName] = useState('');
  const [typed, setTyped] = useState(NOTHING_TYPED);
  const [state, setState] = useState<DeskState>();
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), [step]);
  const goTo = (next: Step) => async (): Promise<void> => setStep(next);
  const create = async (): Promise<void> => {
    checkTyped(typed, o);
    setState(await post<DeskState>('/api/first-run', { clinic, zone, name, passphrase: typed.passphrase }));
    setTyped(NOTHING_TYPED);
    setStep('dock');
  };
  const titles: Readonly<Record<Step, string>> = {
    clinic: w.clinicTitle,
    zone: w.zoneTitle,
    operator: w.operatorTitle,
    dock: w.dockTitle,
    meter: w.meterTitle,
  };
  return (
    <main id="main" class="alone">
      <p class="mid">tallydock · {w.step(STEPS.indexOf(step) + 1, STEPS.length)}</p>
      <h1 ref={heading} tabIndex={-1}>
        {titles[step]}
      </h1>
      {step === 'clinic' ? (
        <Form onSend={goTo('zone')} send={w.next}>
          <Field label={w.clinic} hint={w.clinicHint} isRequired value={clinic} onInput={setClinic} />
        </Form>
      ) : null}
      {step === 'zone' ? (
        <Form onSend={goTo('operator')} send={w.next} onCancel={goTo('clinic')} cancel={w.back}>
          <ZoneField zone={zone} onChange={setZone} />
        </Form>
      ) : null}
      {step === 'operator' ? (
        <Form onSend={create} send={w.create} onCancel={goTo('zone')} cancel={w.back}>
          <p>{w.operatorHint}</p>
          <Field label={o.name} autocomplete="username" isRequired value={name} onInput={setName} />
          <PassphraseFields typed={typed} onInput={setTyped} />
        </Form>
      ) : null}
      {step === 'dock' ? <FirstDock onDone={goTo('meter')} /> : null}
      {step === 'meter' && state ? (
        <LiveProvider>
          <FirstMeter onDone={() => onDone(state)} onBack={goTo('dock')} />
        </LiveProvider>
      ) : null}
    </main>
  );
}

function FirstDock({ onDone }: { readonly onDone: () => void }): JSX.Element {
  const { firstRun: w } = useHere().words.setup;
  const ports = usePorts();
  return (
    <>
      <p>{w.dockHint}</p>
      {ports ? <AssignDock ports={ports} onDone={onDone} onLater={onDone} /> : null}
    </>
  );
}
