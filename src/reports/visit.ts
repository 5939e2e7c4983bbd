/**
 * The sheet of a visit, one page: what was read, what changed, what to key into the meter, what to ask the person, what
 * waits, and room for a signature. Pure. Never a dose, never a diagnosis.
 */
import { localDay, localMinute } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { ValueRow } from './gather-patient.ts';
import type { VisitReport } from './gather-visit.ts';
import { figure, htmlPage, list, needsYou, paragraph, type Section, signature, table } from './page.ts';
import { tallyPicture, tallyWords } from './tally-picture.ts';
import { VISIT_WORDS, type VisitWords } from './visit-words.ts';

/** Off by more than this, a clock that was not set deserves a sentence. */
const WORTH_SETTING_S = 60;
/** So many new values are listed; of more, the newest. */
const SHOWN = 5;
const SHOWN_WAITING = 3;

/** What every part of the sheet is written with. */
interface Pen {
  readonly zone: Zone;
  readonly w: VisitWords;
  readonly minute: (at: Parameters<typeof localMinute>[0]) => string;
  readonly day: (at: Parameters<typeof localDay>[0]) => string;
}

/** Makes the page; `printedAt` is in words. */
export function visitPage(report: VisitReport, printedAt: string, w: VisitWords = VISIT_WORDS.en): string {
  const { meter, person, download, before } = report;
  const zone = zoneOf(report.zone);
  const pen: Pen = {
    zone,
    w,
    minute: (at) => w.when(localMinute(at, zone)),
    day: (at) => w.when(localDay(at, zone)),
  };
  const name = person?.patient.name;
  const who = person ? (name === undefined ? person.patient.id : `${name} (${person.patient.id})`) : undefined;
  const lent = who === undefined ? w.notLent : w.lent;
  const since = before ? w.before(pen.minute(before.at)) : w.firstTime;
  return htmlPage({
    lang: w.lang,
    cautions: w.cautions,
    title: who ?? w.meter(meter.id),
    subtitle: `${meter.model} ${meter.id} · ${lent} · ${w.read(pen.minute(download.at))}${since}`,
    clinic: w.sheet,
    printedAt: w.made(w.when(printedAt)),
    running: `${who ?? w.sheet} · ${w.runningMeter(meter.id)}`,
    isDense: true,
    sections: [
      readSection(report, pen),
      clockSection(report, pen),
      keySection(report, pen),
      askSection(report, pen),
      waitsSection(report, pen),
    ],
  });
}

function readSection(report: VisitReport, { w, zone, minute, day }: Pen): Section {
  const { download: d, strokes, newValues, meter, person, forecast } = report;
  const tally = {
    strokes,
    open: Math.max(0, (d.held ?? strokes.length) - strokes.length),
    isTorn: d.held !== undefined && meter.capacity !== undefined && d.held >= meter.capacity,
  };
  const shown = newValues.slice(-SHOWN);
  const more = newValues.length - shown.length;
  const criticals = newValues.filter((row) => row.standing?.startsWith('critical')).length;
  const known = strokes.filter((s) => !s.isNew).length;
  return {
    heading: w.readHeading,
    body: [
      figure(tallyPicture(tally, w.tally), tallyWords(tally, w.tally)),
      paragraph(w.tests(report.new, report.newErrors, known, d.complete)),
      ...(criticals > 0 ? [needsYou(w.critical(criticals))] : []),
      ...(d.complete ? [] : [needsYou(w.brokeOff)]),
      ...(d.vanished > 0 ? [paragraph(w.vanished(d.vanished))] : []),
      ...(d.possiblyLost ? [needsYou(w.possiblyLost)] : []),
      ...(shown.length === 0
        ? []
        : [
            table(
              w.valueHeads(report.zone),
              shown
                .toReversed()
                .map((row) => [
                  row.time ? minute(row.time.at) : w.timeUnknown,
                  row.time ? w.sure(row.time, zone) : '',
                  valuesOf(row, w),
                  `${row.standing ? w.standing(row.standing) : ''}${row.status === 'held' ? w.waits : row.status === 'void' ? w.struckOut : ''}`,
                ]),
            ),
          ]),
      ...(more > 0 ? [paragraph(w.olderValues(more))] : []),
      ...(person ? [] : [paragraph(w.sharedMeter)]),
      ...report.targetChanges
        .slice(-1)
        .map((t) =>
          paragraph(
            w.targetSet(
              w.decimal(t.low),
              w.decimal(t.high),
              t.from === 0 ? undefined : day(t.from),
              day(t.setAt),
              t.setBy,
            ),
          ),
        ),
      forecast.kind === 'forecast' && forecast.isPast
        ? needsYou(w.forecast(forecast, zone))
        : paragraph(w.nextDownload(w.forecast(forecast, zone))),
    ],
  };
}

const valuesOf = (row: ValueRow, w: VisitWords): string =>
  row.values.map((v) => `${v.analyte} ${w.decimal(v.value)}`).join(', ');

function clockSection(
  { download: d, incidents, powerLosses, isBatteryDying, before }: VisitReport,
  { w, zone }: Pen,
): Section {
  const was = d.clockOffS === undefined ? undefined : w.off(d.clockOffS);
  return {
    heading: w.clockHeading,
    body: [
      paragraph(`${w.clock(was, d.clockSet)} ${w.losses(powerLosses)}`),
      ...(isBatteryDying ? [needsYou(w.batteries)] : []),
      incidents.length === 0
        ? paragraph(w.nothingHappened(before !== undefined))
        : list(newest(incidents).map((i) => w.incident(i, zone))),
    ],
  };
}

function keySection(report: VisitReport, { w, minute }: Pen): Section {
  const { download: d, person, lot, now, incidents } = report;
  const isLost = incidents.some((i) => i.kind === 'power-loss');
  const isOff = d.clockOffS === undefined || Math.abs(d.clockOffS) > WORTH_SETTING_S;
  const target = person?.course.target;
  return {
    heading: w.keyHeading,
    body: [
      table(w.keyHeads, [
        [
          w.dateAndTime,
          d.clockSet ? w.compareOnly : w.wallClock(minute(now)),
          d.clockSet ? w.setByGateway : isLost ? w.lostWithPower : isOff ? w.clockOff : w.clockRight,
          '☐',
        ],
        [
          w.targetRange,
          target
            ? w.range(w.decimal(target.low.toFixed(1)), w.decimal(target.high.toFixed(1)))
            : person
              ? w.noTarget
              : w.noTargetShared,
          isLost ? w.lostWithPower : w.compare,
          '☐',
        ],
        [w.stripCode, lot?.registered?.code ?? w.seeBox, lot ? lotWords(lot, w) : w.noLot, '☐'],
      ]),
      ...(lot?.state === 'expired' ? [needsYou(w.lotExpired(lot.lot))] : []),
    ],
  };
}

const lotWords = ({ lot, state, registered }: NonNullable<VisitReport['lot']>, w: VisitWords): string =>
  state === 'unknown' ? w.lotUnknown(lot) : w.lot(lot, registered?.expiry);

/** The newest three of what stands in order of time: the sheet has one page. */
const newest = <T>(things: readonly T[]): readonly T[] => things.slice(-3);

function askSection(
  { person, missed, incidents, download, newValues, newErrors, before }: VisitReport,
  { w, day }: Pen,
): Section {
  const since = before?.at ?? 0;
  const clusters = (person?.course.errors.clusters ?? []).filter((c) => c.until > since);
  const critical = newValues.filter((row) => row.standing?.startsWith('critical'));
  const named = critical.map((row) => (row.time ? w.on(valuesOf(row, w), day(row.time.at)) : valuesOf(row, w)));
  const questions = [
    ...(critical.length > 0 ? [w.askCritical(newest(named).join('; '))] : []),
    ...newest(missed).map((m) =>
      w.askMissed(m.days, w.when(m.after), m.before === undefined ? undefined : w.when(m.before)),
    ),
    ...newest(clusters).map((c) => w.askErrors(c.errors, c.tests, day(c.from), day(c.until))),
    ...(newErrors > 0 && clusters.length === 0 ? [w.askError(newErrors)] : []),
    ...(incidents.some((i) => i.kind === 'power-loss') ? [w.askPower] : []),
    ...(incidents.some((i) => i.kind === 'clock-changed') ? [w.askClock] : []),
    ...(download.vanished > 0 && incidents.some((i) => i.kind === 'deleted-on-meter') ? [w.askDeleted] : []),
  ];
  return {
    heading: w.askHeading(person !== undefined),
    body: [questions.length === 0 ? paragraph(w.nothingStandsOut) : list(questions)],
  };
}

function waitsSection({ waits }: VisitReport, { w }: Pen): Section {
  const sign = signature(...w.sign);
  if (waits.length === 0) return { heading: w.waitsHeading, body: [paragraph(w.nothingWaits), sign] };
  const shown = waits.slice(-SHOWN_WAITING).toReversed();
  const more = waits.length - shown.length;
  return {
    heading: w.waitsHeading,
    body: [
      list(shown.map((r) => `${w.decimal(r.value)} (${r.id}): ${r.reasons.map(w.reason).join(' ')}`)),
      ...(more > 0 ? [paragraph(w.more(more))] : []),
      sign,
    ],
  };
}
