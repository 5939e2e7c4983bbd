/**
 * The sheet of a visit, one page: what was read, what changed, what to key into the meter, what to ask the person, what
 * waits, and room for a signature. Pure. Never a dose, never a diagnosis.
 */
import { localDay, localMinute } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { ValueRow } from './gather-patient.ts';
import type { VisitReport } from './gather-visit.ts';
import { figure, htmlPage, list, needsYou, paragraph, type Section, signature, table } from './page.ts';
import { countWords, offWords, standingWords, sureWords } from './plain-words.ts';
import { tallyPicture, tallyWords } from './tally-picture.ts';

/** Off by more than this, a clock that was not set deserves a sentence. */
const WORTH_SETTING_S = 60;
/** So many new values are listed; of more, the newest. */
const SHOWN = 5;
const SHOWN_WAITING = 3;

/** Makes the page; `printedAt` is in words. */
export function visitPage(report: VisitReport, printedAt: string): string {
  const { meter, person, download } = report;
  const zone = zoneOf(report.zone);
  const name = person?.patient.name;
  const who = person ? (name === undefined ? person.patient.id : `${name} (${person.patient.id})`) : undefined;
  return htmlPage({
    title: who ?? `Meter ${meter.id}`,
    subtitle: `${meter.model} ${meter.id} · ${who === undefined ? 'not lent to anybody' : 'lent'} · read ${localMinute(download.at, zone)}${report.before ? `, before that ${localMinute(report.before.at, zone)}` : ', for the first time'}`,
    clinic: 'Visit sheet',
    printedAt: `Made ${printedAt}`,
    running: `${who ?? 'Visit sheet'} · meter ${meter.id}`,
    isDense: true,
    sections: [
      readSection(report, zone),
      clockSection(report),
      keySection(report, zone),
      askSection(report, zone),
      waitsSection(report),
    ],
  });
}

function readSection(report: VisitReport, zone: Zone): Section {
  const { download: d, strokes, newValues, meter, person, forecast } = report;
  const tally = {
    strokes,
    open: Math.max(0, (d.held ?? strokes.length) - strokes.length),
    isTorn: d.held !== undefined && meter.capacity !== undefined && d.held >= meter.capacity,
  };
  const errors = report.newErrors > 0 ? `, ${countWords(report.newErrors, 'error test')} among them` : '';
  const shown = newValues.slice(-SHOWN);
  const more = newValues.length - shown.length;
  const criticals = newValues.filter((row) => row.standing?.startsWith('critical')).length;
  return {
    heading: 'What was read and what changed',
    body: [
      figure(tallyPicture(tally), tallyWords(tally)),
      paragraph(
        `${countWords(report.new, 'new test')}${errors}; ${strokes.filter((s) => !s.isNew).length} known. ${d.complete ? 'The whole memory was read. ' : ''}Nothing was deleted on the meter by this program.`,
      ),
      ...(criticals > 0
        ? [
            needsYou(
              `${countWords(criticals, 'new value')} ${criticals === 1 ? 'is' : 'are'} critical: confirm and act by local policy.`,
            ),
          ]
        : []),
      ...(d.complete ? [] : [needsYou('The transfer broke off: read the meter again before it leaves.')]),
      ...(d.vanished > 0
        ? [
            paragraph(
              `${countWords(d.vanished, 'test')} read before ${d.vanished === 1 ? 'is' : 'are'} no longer in the meter; kept here.`,
            ),
          ]
        : []),
      ...(d.possiblyLost ? [needsYou('Tests may have been overwritten before anybody read them.')] : []),
      ...(shown.length === 0
        ? []
        : [
            table(
              [`time (${report.zone})`, 'how sure', 'value', 'standing'],
              shown
                .toReversed()
                .map((row) => [
                  row.time ? localMinute(row.time.at, zone) : 'time unknown',
                  row.time ? sureWords(row.time, zone) : '',
                  row.values.map((v) => `${v.analyte} ${v.value}`).join(', '),
                  `${row.standing ? standingWords(row.standing) : ''}${row.status === 'held' ? ' (waits)' : row.status === 'void' ? ' (struck out)' : ''}`,
                ]),
            ),
          ]),
      ...(more > 0
        ? [
            paragraph(
              `${countWords(more, 'older new value')} ${more === 1 ? 'stands' : 'stand'} in the report on the person.`,
            ),
          ]
        : []),
      ...(person ? [] : [paragraph('The meter is not lent: whose its readings are stands with each of them.')]),
      ...report.targetChanges
        .slice(-1)
        .map((t) =>
          paragraph(
            `The target ${t.low} to ${t.high}${t.from === 0 ? '' : `, in force from ${localDay(t.from, zone)},`} was set on ${localDay(t.setAt, zone)} by ${t.setBy}.`,
          ),
        ),
      forecast.kind === 'forecast' && forecast.isPast
        ? needsYou(forecast.sentence)
        : paragraph(`Next download: ${forecast.sentence}`),
    ],
  };
}

function clockSection({ download: d, incidents, powerLosses, isBatteryDying, before }: VisitReport): Section {
  const was = d.clockOffS === undefined ? 'was not seen' : `was ${offWords(d.clockOffS)}`;
  const losses =
    powerLosses === 0
      ? 'No power loss is known of this meter.'
      : `Power was lost ${powerLosses === 1 ? 'once' : `${powerLosses} times`}, as far as is known.`;
  return {
    heading: 'Clock and batteries',
    body: [
      paragraph(`Its clock ${was}${d.clockSet ? ' and was set right' : ''}. ${losses}`),
      ...(isBatteryDying ? [needsYou('The batteries keep dying: change them now, and look at the contacts.')] : []),
      incidents.length === 0
        ? paragraph(`Nothing happened to clock or memory${before ? ' since the download before' : ''}.`)
        : list(newest(incidents).map((i) => i.explanation)),
    ],
  };
}

function keySection(report: VisitReport, zone: Zone): Section {
  const { download: d, person, lot, now, incidents } = report;
  const isLost = incidents.some((i) => i.kind === 'power-loss');
  const isOff = d.clockOffS === undefined || Math.abs(d.clockOffS) > WORTH_SETTING_S;
  const target = person?.course.target;
  return {
    heading: 'What to key into the meter',
    body: [
      table(
        ['what', 'key in', 'why', 'done'],
        [
          [
            'date and time',
            d.clockSet ? 'compare only' : `${localMinute(now, zone)} when this was made: take the clock on the wall`,
            d.clockSet
              ? 'set by the gateway at the download'
              : isLost
                ? 'lost with the power'
                : isOff
                  ? 'the clock was off'
                  : 'was right: compare',
            '☐',
          ],
          [
            'target range',
            target
              ? `${target.low.toFixed(1)} to ${target.high.toFixed(1)}`
              : person
                ? 'none set here: ask'
                : 'the meter is shared: none',
            isLost ? 'lost with the power' : 'compare',
            '☐',
          ],
          ['strip code', lot?.registered?.code ?? 'see the box', lot ? lotWords(lot) : 'no test told its lot', '☐'],
        ],
      ),
      ...(lot?.state === 'expired' ? [needsYou(`Strip lot ${lot.lot} has expired: new strips.`)] : []),
    ],
  };
}

function lotWords({ lot, state, registered }: NonNullable<VisitReport['lot']>): string {
  if (state === 'unknown') return `lot ${lot} is not in the register`;
  return `lot ${lot}${registered?.expiry === undefined ? '' : `, good until ${registered.expiry}`}`;
}

/** The newest three of what stands in order of time: the sheet has one page. */
const newest = <T>(things: readonly T[]): readonly T[] => things.slice(-3);

const criticalWords = (row: ValueRow, zone: Zone): string =>
  `${row.values.map((v) => `${v.analyte} ${v.value}`).join(', ')}${row.time ? ` on ${localDay(row.time.at, zone)}` : ''}`;

function askSection(
  { person, missed, incidents, download, newValues, newErrors, before }: VisitReport,
  zone: Zone,
): Section {
  const since = before?.at ?? 0;
  const clusters = (person?.course.errors.clusters ?? []).filter((c) => c.until > since);
  const critical = newValues.filter((row) => row.standing?.startsWith('critical'));
  const questions = [
    ...(critical.length > 0
      ? [
          `${newest(critical.map((row) => criticalWords(row, zone))).join('; ')}: did the clinic hear of it, and was it confirmed in a laboratory?`,
        ]
      : []),
    ...newest(missed).map(
      (m) =>
        `No test for ${m.days} days, ${m.before === undefined ? `since ${m.after}` : `from ${m.after} to ${m.before}`}: what kept you from it, and were tests made elsewhere?`,
    ),
    ...newest(clusters).map(
      (c) =>
        `${c.errors} errors among ${c.tests} tests from ${localDay(c.from, zone)} to ${localDay(c.until, zone)}: watch a test together.`,
    ),
    ...(newErrors > 0 && clusters.length === 0
      ? [`${countWords(newErrors, 'test')} ended in an error: what happened?`]
      : []),
    ...(incidents.some((i) => i.kind === 'power-loss')
      ? ['The meter lost power: were the batteries changed, or was it unplugged? When?']
      : []),
    ...(incidents.some((i) => i.kind === 'clock-changed') ? ['The clock was changed: did you set it?'] : []),
    ...(download.vanished > 0 && incidents.some((i) => i.kind === 'deleted-on-meter')
      ? ['Results were deleted on the meter: by whom, and why?']
      : []),
  ];
  const [heading, nothing] = person
    ? ['What to ask the person', 'Nothing stands out.']
    : ['What to ask those who use it', 'Nothing stands out.'];
  return { heading, body: [questions.length === 0 ? paragraph(nothing) : list(questions)] };
}

const SIGN = signature('seen on', 'name', 'signature');

function waitsSection({ waits }: VisitReport): Section {
  if (waits.length === 0) return { heading: 'What waits', body: [paragraph('Nothing.'), SIGN] };
  const shown = waits.slice(-SHOWN_WAITING).toReversed();
  const more = waits.length - shown.length;
  return {
    heading: 'What waits',
    body: [
      list(shown.map((w) => `${w.value} (${w.id}): ${w.sentences.join(' ')}`)),
      ...(more > 0 ? [paragraph(`And ${countWords(more, 'older one')}: see "tallydock holds".`)] : []),
      SIGN,
    ],
  };
}
