/** The report on control tests. Pure. */
import { localMinute } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import { controlChart, DRAWN_POINTS } from './control-charts.ts';
import type { ControlsReport, MeterControls, OutOfControlRow } from './gather-controls.ts';
import { figure, type Html, htmlPage, list, needsYou, paragraph, remark, type Section, strong, table } from './page.ts';
import { countWords } from './plain-words.ts';

/** So many verdicts of a meter stand on the page; all are in the JSON. */
const SHOWN = 20;
/** Fewer values make no picture. */
const FEWEST_POINTS = 3;

/** Makes the page; `printedAt` is in words. */
export function controlsPage(given: ControlsReport, printedAt: string): string {
  const zone = zoneOf(given.zone);
  const isOut = (m: MeterControls): boolean => m.outOfControl.some(({ span }) => span.until === undefined);
  // What needs a person first, then what is used most.
  const meters = given.meters.toSorted((a, b) => Number(isOut(b)) - Number(isOut(a)) || b.tests - a.tests);
  const report = { ...given, meters };
  return htmlPage({
    title: 'Control tests',
    clinic: 'Can the meters be trusted?',
    printedAt: `Made ${printedAt}`,
    sections: [
      dueSection(report, zone),
      ...report.meters.map((meter) => meterSection(meter, zone)),
      neverSection(report),
    ],
  });
}

const STATUS = { 'in-time': 'in time', due: 'due', overdue: 'overdue' } as const;

/** A meter with the strip lots with which it is out of control: another lot may be good. */
function outWords({ meterId, outOfControl }: MeterControls): string {
  const lots = outOfControl.flatMap(({ span, stripLot }) => (span.until === undefined && stripLot ? [stripLot] : []));
  return lots.length === 0 ? meterId : `${meterId} (strip lot ${[...new Set(lots)].join(', ')})`;
}

function dueSection({ meters, plan }: ControlsReport, zone: Zone): Section {
  const out = meters.filter((m) => m.outOfControl.some(({ span }) => span.until === undefined));
  return {
    heading: 'What is due',
    body: [
      ...(out.length === 0 ? [] : [needsYou(`Out of control now: ${out.map(outWords).join(', ')}. Its results wait.`)]),
      meters.length === 0
        ? paragraph('No control test is known of any meter.')
        : table(
            ['meter', 'strip lot', 'controls', 'last good', 'what that means'],
            meters.map(({ meterId, stripLot, due }) => [
              meterId,
              stripLot ?? 'not told',
              due.status === 'in-time' ? STATUS[due.status] : strong(STATUS[due.status]),
              due.lastGood === undefined ? 'none' : localMinute(due.lastGood, zone),
              due.sentence,
            ]),
          ),
      remark(`Plan: ${plan.source.name}, ${plan.source.edition}: ${plan.source.citation}.`),
    ],
  };
}

function meterSection(meter: MeterControls, zone: Zone): Section {
  const { charts, verdicts, outOfControl, tests } = meter;
  const kinds = (['liquid', 'electronic'] as const).map((kind) => charts.filter((c) => c.kind === kind));
  const older = verdicts.length - SHOWN;
  const points = ({ lots }: MeterControls['charts'][number]): number =>
    lots.reduce((sum, lot) => sum + lot.points.length, 0);
  const drawn = kinds.flat().filter((chart) => points(chart) >= FEWEST_POINTS);
  return {
    heading: `${meter.model} ${meter.meterId}: ${countWords(tests, 'control test')}`,
    body: [
      ...drawn.map((chart) => {
        const all = points(chart);
        const cut = all > DRAWN_POINTS ? ` The newest ${DRAWN_POINTS} of ${all}.` : '';
        const kind = chart.kind === 'liquid' ? 'Liquid control' : 'Electronic control';
        return figure(
          controlChart(chart, zone),
          `${kind}, ${chart.analyte}, level ${chart.level}.${cut} Shaded: within 2 s. Triangle: rejected; ring: warning; each with its rule. A stroke at the foot: another strip lot.`,
        );
      }),
      ...(drawn.length < charts.length
        ? [remark(`A level with fewer than ${FEWEST_POINTS} values is not drawn.`)]
        : []),
      verdicts.length === 0
        ? paragraph('No rule spoke.')
        : table(
            ['time', 'control', 'verdict', 'why'],
            verdicts
              .slice(0, SHOWN)
              .map((v) => [
                localMinute(v.takenAt, zone),
                v.kind ?? 'not known',
                v.outcome === 'reject' ? strong('rejected') : v.outcome === 'warn' ? 'warning' : 'level not known',
                v.sentences.join(' '),
              ]),
          ),
      ...(older > 0 ? [remark(`And ${countWords(older, 'older verdict')}: see the JSON of this report.`)] : []),
      ...outOfControl.flatMap((row) => outParts(row, zone)),
    ],
  };
}

function outParts({ stripLot, span, counting, waiting }: OutOfControlRow, zone: Zone): Html[] {
  const until = span.until === undefined ? 'and still' : `until ${localMinute(span.until, zone)}`;
  const lot = stripLot === undefined ? '' : ` with strip lot ${stripLot}`;
  const said = `Out of control${lot} from ${localMinute(span.from, zone)} ${until}: ${span.sentence}`;
  const good = span.lastGood
    ? `The last good control before it was on ${localMinute(span.lastGood.at, zone)}: what was measured since then is in doubt too.`
    : 'No good control is known before it.';
  return [
    span.until === undefined ? needsYou(said) : paragraph(said),
    paragraph(
      `${good} ${countWords(waiting, 'value of it waits', 'values of it wait')}; ${countWords(counting.length, 'counts', 'count')} all the same.`,
    ),
    ...(counting.length === 0
      ? []
      : [
          list(
            counting
              .slice(0, SHOWN)
              .map(
                (c) =>
                  `${localMinute(c.takenAt, zone)} (${c.reading}): ${c.was === 'yes' ? 'made out of control' : 'possibly made out of control'}, ${c.isReleased ? 'released by a person' : 'not held for it'}, ${c.forwardedTo.length === 0 ? 'not forwarded' : `forwarded to ${c.forwardedTo.join(', ')}`}`,
              ),
          ),
          ...(counting.length > SHOWN ? [remark(`And ${counting.length - SHOWN} more: see the JSON.`)] : []),
        ]),
  ];
}

function neverSection({ never }: ControlsReport): Section {
  return {
    heading: 'Without any control test that is known',
    body: [
      never.length === 0
        ? paragraph('Every meter has at least one.')
        : paragraph(`${countWords(never.length, 'meter')}: ${never.join(', ')}.`),
    ],
  };
}
