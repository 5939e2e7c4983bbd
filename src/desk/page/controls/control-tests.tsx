/** Control tests: what is due, each meter's charts, what the rules said, and what was measured out of control. */
import type { JSX } from 'preact';
import type { MeterControls, OutOfControlRow } from '../../../reports/gather-controls.ts';
import type { ControlsPage } from '../../api/house.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { Show } from '../parts/loaded.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import { ControlChart } from './control-chart.tsx';
import { NameControl } from './name-control.tsx';

/** So many verdicts of a meter stand on the screen. */
const SHOWN = 12;

export function ControlTests(): JSX.Element {
  const loaded = useData<ControlsPage>('/api/controls');
  return <Show loaded={loaded}>{(page) => <Tests page={page} />}</Show>;
}

const isOut = ({ outOfControl }: MeterControls): boolean => outOfControl.some(({ span }) => span.until === undefined);

function Tests({ page }: { readonly page: ControlsPage }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const { report } = page;
  // What needs somebody first, then what is used most.
  const meters = report.meters.toSorted((a, b) => Number(isOut(b)) - Number(isOut(a)) || b.tests - a.tests);
  const out = meters.filter(isOut);
  const { dueColumns: columns } = w;
  return (
    <>
      {out.length > 0 ? <p class="needs-you">{w.outNow(out.map((m) => withLots(m, w.withLot)).join(', '))}</p> : null}
      <h2>{w.due}</h2>
      {meters.length === 0 ? (
        <p>{w.none}</p>
      ) : (
        <Table
          name={w.due}
          heads={[
            { says: columns.meter },
            { says: columns.lot },
            { says: columns.status },
            { says: columns.lastGood },
            { says: columns.next },
            { says: columns.without, isNumber: true },
          ]}
          rows={meters.map(({ meterId, model, stripLot, due }) => ({
            key: `${model} ${meterId}`,
            cells: [
              <a key="meter" href={addressOf('meters', meterId, model)}>
                {meterId}
              </a>,
              stripLot ?? words.meters.notTold,
              w.dueStatus[due.status],
              due.lastGood === undefined ? w.noGood : format.moment(due.lastGood),
              due.nextDue === undefined ? '' : format.moment(due.nextDue),
              due.testsWithout,
            ],
          }))}
        />
      )}
      <p class="mid">{w.plan(report.plan.source.name, report.plan.source.edition)}</p>
      {report.never.length > 0 ? <p>{w.never(report.never.join(', '))}</p> : null}
      {meters.map((meter) => (
        <Meter key={`${meter.model} ${meter.meterId}`} meter={meter} levels={page.levels} />
      ))}
      <p class="no-print">
        <a href="/print/controls" target="_blank" rel="noreferrer">
          {w.print}
        </a>
      </p>
    </>
  );
}

function withLots({ meterId, outOfControl }: MeterControls, say: (meter: string, lots: string) => string): string {
  const lots = outOfControl.flatMap(({ span, stripLot }) => (span.until === undefined && stripLot ? [stripLot] : []));
  return lots.length === 0 ? meterId : say(meterId, [...new Set(lots)].join(', '));
}

function Meter({
  meter,
  levels,
}: {
  readonly meter: MeterControls;
  readonly levels: ControlsPage['levels'];
}): JSX.Element {
  const { words, format } = useHere();
  const { controls: w } = words;
  const { verdicts } = meter;
  const drawn = meter.charts.filter(({ lots }) => lots.reduce((sum, lot) => sum + lot.points.length, 0) >= 3);
  const { pointColumns: columns } = w;
  return (
    <section>
      <h2>
        {meter.model} {meter.meterId}
      </h2>
      {drawn.map((chart) => (
        <ControlChart key={`${chart.kind} ${chart.analyte} ${chart.level}`} chart={chart} />
      ))}
      {drawn.length < meter.charts.length ? <p class="mid">{w.tooFew}</p> : null}
      <h3>{w.verdicts}</h3>
      {verdicts.length === 0 ? (
        <p>{w.noVerdicts}</p>
      ) : (
        <Table
          name={`${w.verdicts} ${meter.meterId}`}
          heads={[{ says: columns.time }, { says: columns.verdict }, { says: columns.rules }]}
          rows={verdicts.slice(0, SHOWN).map((v) => ({
            key: v.reading,
            cells: [
              format.moment(v.takenAt),
              `${v.kind ? `${w.kind[v.kind]}: ` : ''}${w.outcome[v.outcome]}`,
              v.outcome === 'unassigned' ? (
                <NameControl key="name" readingId={v.reading} levels={levels} />
              ) : (
                rulesOf(meter, v.reading)
                  .map((rule) => (w.ruleMeans[rule] ? `${rule}: ${w.ruleMeans[rule]}` : rule))
                  .join('; ')
              ),
            ],
          }))}
        />
      )}
      {verdicts.length > SHOWN ? <p class="mid">{w.more(format.number(verdicts.length - SHOWN, 0))}</p> : null}
      {meter.outOfControl.map((row) => (
        <OutOfControl key={row.span.from} row={row} />
      ))}
    </section>
  );
}

/** The rules that spoke at a control test. */
const rulesOf = ({ charts }: MeterControls, reading: string): readonly string[] =>
  charts.flatMap(({ lots }) =>
    lots.flatMap(({ points }) => points.filter((p) => p.id === reading).flatMap((p) => p.rules)),
  );

function OutOfControl({ row: { stripLot, span, counting, waiting } }: { readonly row: OutOfControlRow }): JSX.Element {
  const { words, format } = useHere();
  const { controls: w, terms } = words;
  const isNow = span.until === undefined;
  const until = span.until === undefined ? w.still : w.until(format.moment(span.until));
  return (
    <p class={isNow ? 'needs-you' : undefined}>
      {w.out(stripLot === undefined ? '' : w.outLot(stripLot), format.moment(span.from), until)}{' '}
      {span.lastGood ? w.lastGood(format.moment(span.lastGood.at)) : w.noLastGood}{' '}
      {w.doubt(format.count(waiting, terms.readings), String(counting.length))}
    </p>
  );
}
