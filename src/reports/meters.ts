/** The report on meters and strips. Pure. */
import type { ErrorRates } from '../clinic/lots/error-rates.ts';
import { LOT_HABITS } from '../clinic/rules/lot-habits.ts';
import { METER_HABITS } from '../clinic/rules/meter-habits.ts';
import { instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { MeterRow, MetersReport } from './gather-meters.ts';
import { type Head, htmlPage, list, needsYou, paragraph, remark, type Section, strong, table } from './page.ts';
import { countWords, percentRange } from './plain-words.ts';

const number = (says: string): Head => ({ says, isNumber: true });
/** So many groups of error rates stand on the page; all are in the JSON. */
const SHOWN = 15;
const SOON_DAYS = 14;
const DAY_MS = 86_400_000;

/** Makes the page; `printedAt` is in words. */
export function metersPage(report: MetersReport, printedAt: string): string {
  const zone = zoneOf(report.zone);
  return htmlPage({
    title: 'Meters and strips',
    subtitle: countWords(report.meters.length, 'meter'),
    clinic: 'Can the meters be trusted?',
    printedAt: `Made ${printedAt}`,
    sections: [
      readSection(report, zone),
      careSection(report),
      ...report.errors.map(errorSection),
      lotsSection(report, zone),
      shiftSection(report),
    ],
  });
}

const holderWords = ({ person }: MeterRow): string =>
  person === undefined ? 'not lent' : person.name === undefined ? person.id : `${person.name} (${person.id})`;

function readSection({ meters, now }: MetersReport, zone: Zone): Section {
  const soon = meters.filter(({ forecast: f }) => f.kind === 'forecast' && f.cautiousAt < now + SOON_DAYS * DAY_MS);
  const unseen = meters.filter((m) => m.daysUnseen !== undefined);
  return {
    heading: 'When to read them',
    body: [
      ...(soon.length === 0
        ? []
        : [
            needsYou(
              `Read within ${SOON_DAYS} days, else results may be overwritten unread: ${soon.map((m) => m.meterId).join(', ')}.`,
            ),
          ]),
      ...(unseen.length === 0
        ? []
        : [needsYou(`Not seen for long: ${unseen.map((m) => `${m.meterId} (${holderWords(m)})`).join(', ')}.`)]),
      table(
        ['meter', 'who has it', 'last read', 'read before', 'expected to overwrite'],
        meters.map((m) => {
          const { forecast: f, seen } = m;
          const far = (at: number): string =>
            at > now + 730 * DAY_MS ? 'in over two years' : localDay(instant(at), zone);
          return [
            m.meterId,
            holderWords(m),
            seen === undefined ? 'never' : localDay(seen, zone),
            f.kind === 'unknown'
              ? f.sentence
              : f.isPast
                ? strong(`now: ${localDay(f.cautiousAt, zone)} is over`)
                : far(f.cautiousAt),
            f.kind === 'unknown' || f.expectedAt === undefined ? '' : far(f.expectedAt),
          ];
        }),
      ),
      remark(
        `The day to read before is cautious: at the meter’s own pace of the last ${METER_HABITS.paceDays} days, results are overwritten sooner only once in ${Math.round(1 / (1 - METER_HABITS.confidence))} times. A meter that does not say how many results it holds is taken to hold ${METER_HABITS.assumedCapacity ?? 'an unknown number'}.`,
      ),
    ],
  };
}

function careSection({ meters, ranks }: MetersReport): Section {
  const dying = meters.filter((m) => m.battery !== 'no sign');
  const byId = new Map(meters.map((m) => [m.meterId, m]));
  return {
    heading: 'Batteries and clocks',
    body: [
      ...dying.map((m) =>
        needsYou(
          `The batteries of ${m.meterId} ${m.battery === 'dying' ? 'keep dying' : 'may keep dying'}: change them, and look at the contacts.`,
        ),
      ),
      ranks.losses.length === 0
        ? paragraph('No power loss is known.')
        : table(
            ['meter, most losses first', number('power losses')],
            ranks.losses.map((r) => [r.meter, r.losses]),
          ),
      ranks.drift.length === 0
        ? paragraph(
            'The drift of no clock is known yet: it takes two downloads with an undisturbed clock between them.',
          )
        : table(
            ['meter, worst clock first', number('seconds a day'), 'what that means'],
            ranks.drift
              .slice(0, SHOWN)
              .map((r) => [
                r.meter,
                `${r.secondsPerDay < 0 ? '−' : '+'}${Math.abs(r.secondsPerDay).toFixed(2)}`,
                byId.get(r.meter)?.isBeyondCrystal
                  ? strong('no crystal errs so much: broken, or changed by hand')
                  : `${r.secondsPerDay < 0 ? 'loses' : 'gains'} ${Math.abs(r.secondsPerDay * 30).toFixed(0)} s a month`,
              ]),
          ),
      remark(
        `Batteries keep dying: ${METER_HABITS.batteryLosses} losses within ${METER_HABITS.batteryDays} days. ${METER_HABITS.source.citation}.`,
      ),
    ],
  };
}

function errorSection({ by, clinic, rates, unknown }: ErrorRates): Section {
  const above = rates.filter((r) => r.isAboveClinic);
  const name = by === 'lot' ? 'strip lot' : by;
  return {
    heading: `Failed tests by ${name}`,
    body: [
      paragraph(
        clinic
          ? `Of all tests ${(clinic.estimate * 100).toFixed(1)} % failed (95 % interval ${percentRange(clinic.low, clinic.high)}).${unknown === 0 ? '' : ` Of ${countWords(unknown, 'test')} the ${name} is not known.`}`
          : 'No test is known.',
      ),
      ...(above.length === 0
        ? []
        : [
            needsYou(
              `More than elsewhere, beyond chance: ${above.map((r) => r.of).join(', ')}. ${by === 'lot' ? 'Look at the box and its storage.' : 'Watch a test together.'}`,
            ),
          ]),
      ...(rates.length === 0
        ? []
        : [
            table(
              [name, number('failed'), number('tests'), number('share'), number('95 % interval'), 'against the clinic'],
              rates
                .slice(0, SHOWN)
                .map((r) => [
                  r.of,
                  r.errors,
                  r.tests,
                  `${(r.share.estimate * 100).toFixed(1)} %`,
                  percentRange(r.share.low, r.share.high),
                  r.isAboveClinic ? strong('above it') : 'no difference shown',
                ]),
            ),
          ]),
      ...(rates.length > SHOWN ? [remark(`And ${rates.length - SHOWN} more: see the JSON of this report.`)] : []),
    ],
  };
}

const STATE = { good: 'good', expired: 'expired', unknown: 'not registered' } as const;

function lotsSection({ lots, unused, analyte }: MetersReport, zone: Zone): Section {
  return {
    heading: 'Strip lots',
    body: [
      lots.length === 0
        ? paragraph('No test told its lot.')
        : table(
            [
              'lot',
              'state',
              'good until',
              'used',
              number('tests'),
              number('people'),
              number(`median ${analyte}`),
              number('mean'),
              number('s'),
            ],
            lots.map((l) => [
              l.lot,
              l.state === 'good' ? STATE.good : strong(STATE[l.state]),
              l.registered?.expiry ?? 'not told',
              `${localDay(l.firstAt, zone)} to ${localDay(l.lastAt, zone)}`,
              l.tests,
              l.people,
              l.median.toFixed(1),
              l.mean.toFixed(2),
              l.sd === undefined ? '–' : l.sd.toFixed(2),
            ]),
            'Different people use different lots: these figures do not compare lots, the shifts below do.',
          ),
      ...(unused.length === 0
        ? []
        : [
            paragraph(
              `Registered and not used: ${unused.map((l) => `${l.lot} (${STATE[l.state]}${l.expiry === undefined ? '' : `, until ${l.expiry}`})`).join(', ')}.`,
            ),
          ]),
    ],
  };
}

function shiftSection({ shifts }: MetersReport): Section {
  const sentences = shifts.flatMap(({ byPeople, byControls }) => [
    byPeople.isShift ? strong(byPeople.sentence) : byPeople.sentence,
    ...byControls.map((c) => (c.isShift ? strong(c.sentence) : c.sentence)),
  ]);
  return {
    heading: 'From lot to lot',
    body: [
      sentences.length === 0 ? paragraph('There are no two lots to compare.') : list(sentences),
      remark(
        `By people: each person who went from one lot to the next is compared with themselves, up to ${LOT_HABITS.nearest} values on either side within ${LOT_HABITS.windowDays} days; Hodges and Lehmann. By controls: the same material with strips of both lots; Welch. What happened to everybody at that time cannot be told from the strips.`,
      ),
    ],
  };
}
