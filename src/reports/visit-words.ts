/** The words of the sheet of a visit, in each language that the desk speaks. A text that lacks in one does not compile. Pure. */

import type { TimeSpan } from '../clinic/facts.ts';
import { HOLD_CODES } from '../clinic/holds/hold.ts';
import type { OverwriteForecast } from '../clinic/meters/overwrite.ts';
import { localDay } from '../core/local-words.ts';
import type { Standing } from '../core/outgoing.ts';
import type { Incident } from '../core/placement.ts';
import { spanInWords } from '../core/span-words.ts';
import type { Zone } from '../core/zone.ts';
import { CAUTIONS } from './page.ts';
import { countWords, offWords, standingWords, sureWords } from './plain-words.ts';

/** A reason for which something waits: its stable word, and its sentence in English. */
export interface WaitReason {
  readonly code: string;
  readonly sentence: string;
}

const english = {
  lang: 'en',
  cautions: CAUTIONS,
  /** Local dates and times as `localDay` and `localMinute` give them. */
  when: (text: string): string => text,
  decimal: (text: string): string => text,
  standing: standingWords as (standing: Standing) => string,
  sure: sureWords as (time: TimeSpan, zone: Zone) => string,
  off: offWords as (seconds: number) => string,
  incident: (incident: Incident, _zone: Zone): string => incident.explanation,
  reason: ({ sentence }: WaitReason): string => sentence,
  forecast: ({ sentence }: OverwriteForecast, _zone: Zone): string => sentence,
  tally: {
    title: 'Tally of the memory',
    says: (fresh: number, known: number, open: number) => `${fresh} new, ${known} known, ${open} not read.`,
    isNew: 'Each stroke is a test, oldest first: full ones are new, faint ones known.',
    control: 'With a foot: a control test.',
    error: 'Broken: an error test.',
    open: 'Dotted: not read.',
    torn: 'Torn edge: the memory is full, the oldest are overwritten.',
  },
  sheet: 'Visit sheet',
  meter: (id: string) => `Meter ${id}`,
  runningMeter: (id: string) => `meter ${id}`,
  notLent: 'not lent to anybody',
  lent: 'lent',
  read: (when: string) => `read ${when}`,
  before: (when: string) => `, before that ${when}`,
  firstTime: ', for the first time',
  made: (when: string) => `Made ${when}`,
  readHeading: 'What was read and what changed',
  tests: (fresh: number, errors: number, known: number, complete: boolean) =>
    `${countWords(fresh, 'new test')}${errors > 0 ? `, ${countWords(errors, 'error test')} among them` : ''}; ${known} known. ${complete ? 'The whole memory was read. ' : ''}Nothing was deleted on the meter by this program.`,
  critical: (n: number) =>
    `${countWords(n, 'new value')} ${n === 1 ? 'is' : 'are'} critical: confirm and act by local policy.`,
  brokeOff: 'The transfer broke off: read the meter again before it leaves.',
  vanished: (n: number) =>
    `${countWords(n, 'test')} read before ${n === 1 ? 'is' : 'are'} no longer in the meter; kept here.`,
  possiblyLost: 'Tests may have been overwritten before anybody read them.',
  valueHeads: (zone: string) => [`time (${zone})`, 'how sure', 'value', 'standing'],
  timeUnknown: 'time unknown',
  waits: ' (waits)',
  struckOut: ' (struck out)',
  olderValues: (n: number) =>
    `${countWords(n, 'older new value')} ${n === 1 ? 'stands' : 'stand'} in the report on the person.`,
  sharedMeter: 'The meter is not lent: whose its readings are stands with each of them.',
  targetSet: (low: string, high: string, from: string | undefined, on: string, by: string) =>
    `The target ${low} to ${high}${from === undefined ? '' : `, in force from ${from},`} was set on ${on} by ${by}.`,
  nextDownload: (sentence: string) => `Next download: ${sentence}`,
  clockHeading: 'Clock and batteries',
  clock: (was: string | undefined, isSet: boolean) =>
    `Its clock ${was === undefined ? 'was not seen' : `was ${was}`}${isSet ? ' and was set right' : ''}.`,
  losses: (n: number) =>
    n === 0
      ? 'No power loss is known of this meter.'
      : `Power was lost ${n === 1 ? 'once' : `${n} times`}, as far as is known.`,
  batteries: 'The batteries keep dying: change them now, and look at the contacts.',
  nothingHappened: (isSince: boolean) =>
    `Nothing happened to clock or memory${isSince ? ' since the download before' : ''}.`,
  keyHeading: 'What to key into the meter',
  keyHeads: ['what', 'key in', 'why', 'done'],
  dateAndTime: 'date and time',
  compareOnly: 'compare only',
  wallClock: (when: string) => `${when} when this was made: take the clock on the wall`,
  setByGateway: 'set by the gateway at the download',
  lostWithPower: 'lost with the power',
  clockOff: 'the clock was off',
  clockRight: 'was right: compare',
  targetRange: 'target range',
  range: (low: string, high: string) => `${low} to ${high}`,
  noTarget: 'none set here: ask',
  noTargetShared: 'the meter is shared: none',
  compare: 'compare',
  stripCode: 'strip code',
  seeBox: 'see the box',
  lotUnknown: (lot: string) => `lot ${lot} is not in the register`,
  lot: (lot: string, expiry: string | undefined) => `lot ${lot}${expiry === undefined ? '' : `, good until ${expiry}`}`,
  noLot: 'no test told its lot',
  lotExpired: (lot: string) => `Strip lot ${lot} has expired: new strips.`,
  askHeading: (isLent: boolean): string => (isLent ? 'What to ask the person' : 'What to ask those who use it'),
  nothingStandsOut: 'Nothing stands out.',
  on: (value: string, day: string) => `${value} on ${day}`,
  askCritical: (values: string) => `${values}: did the clinic hear of it, and was it confirmed in a laboratory?`,
  askMissed: (days: number, after: string, before: string | undefined) =>
    `No test for ${days} days, ${before === undefined ? `since ${after}` : `from ${after} to ${before}`}: what kept you from it, and were tests made elsewhere?`,
  askErrors: (errors: number, tests: number, from: string, until: string) =>
    `${errors} errors among ${tests} tests from ${from} to ${until}: watch a test together.`,
  askError: (n: number) => `${countWords(n, 'test')} ended in an error: what happened?`,
  askPower: 'The meter lost power: were the batteries changed, or was it unplugged? When?',
  askClock: 'The clock was changed: did you set it?',
  askDeleted: 'Results were deleted on the meter: by whom, and why?',
  waitsHeading: 'What waits',
  nothingWaits: 'Nothing.',
  more: (n: number) => `And ${countWords(n, 'older one')}: see "tallydock holds".`,
  sign: ['seen on', 'name', 'signature'],
};

/** All texts of the sheet. */
export type VisitWords = typeof english;

/** A span such as `12 min` or `3 days`, with the German words for its units. */
const germanSpan = (seconds: number): string =>
  spanInWords(seconds)
    .replace(/\bdays\b/, 'Tage')
    .replace(/\bday\b/, 'Tag')
    .replace(/\byears\b/, 'Jahre')
    .replace(/\byear\b/, 'Jahr')
    .replace(/(\d)\.(\d)/, '$1,$2');

/** `2026-03-02 10:15` as `02.03.2026 10:15`. */
const germanDate = (text: string): string => text.replace(/(\d{4})-(\d{2})-(\d{2})/g, '$3.$2.$1');
const germanCount = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`;

const GERMAN_REASONS: Readonly<Record<(typeof HOLD_CODES)[number], string>> = {
  conflict: 'Zwei Tests beanspruchen einen Platz im Gerät.',
  'identity-shared': 'Zwei Geräte haben diese Nummer.',
  'value-unreadable': 'Der Wert ist nicht lesbar.',
  'read-once': 'Nur einmal über eine schwache Leitung gelesen.',
  'person-unknown': 'Es ist nicht bekannt, von wem.',
  'person-unconfirmed': 'Es ist nicht bestätigt, von wem.',
  'person-doubtful': 'Es ist zweifelhaft, von wem.',
  'time-displayed': 'Die Uhr des Geräts wurde nie verglichen.',
  'time-wide': 'Die Zeit ist nicht genau genug bekannt.',
  'off-scale': 'Außerhalb des Messbereichs.',
  implausible: 'Der Wert ist unglaubwürdig.',
  'values-disagree': 'INR und PT passen nicht zusammen.',
  'off-course': 'Weit von den letzten Werten.',
  'lot-missing': 'Keine Streifen-Charge genannt.',
  'lot-unknown': 'Die Streifen-Charge ist nicht eingetragen.',
  'lot-expired': 'Die Streifen-Charge war abgelaufen.',
  'control-failed': 'Ein Kontrolltest misslang auf diesem Gerät.',
};

const GERMAN_INCIDENTS: Readonly<Record<Incident['kind'], string>> = {
  'power-loss': 'Es verlor den Strom und damit die Uhrzeit',
  'clock-changed': 'Die Uhr wurde verstellt',
  'fast-drift': 'Die Uhr geht zu schnell oder zu langsam',
  'memory-wrapped': 'Der Speicher hat die ältesten Werte überschrieben',
  'deleted-on-meter': 'Auf dem Gerät wurden Werte gelöscht',
  'identity-shared': 'Zwei Geräte haben diese Nummer',
};

const GERMAN_STANDINGS: Readonly<Record<Standing, string>> = {
  'critical-low': 'kritisch niedrig',
  below: 'darunter',
  in: 'im Bereich',
  above: 'darüber',
  'critical-high': 'kritisch hoch',
  'no-target': 'kein Zielbereich gesetzt',
};

const german: VisitWords = {
  lang: 'de',
  cautions: [
    'Kein Medizinprodukt; nicht zum Dosieren. Ein Ergebnis wird von befugtem Fachpersonal nach den Regeln des Hauses bestätigt und beurteilt.',
    'Werte außerhalb des Messbereichs, oder die nicht zur Person passen, werden mit einer Labormethode bestätigt. Kapillare Ergebnisse sind falsch bei ungeeigneten Proben und bei manchen Krankheiten und Arzneimitteln: siehe die Anleitung des Geräts.',
    'Blut ist infektiös: Handschuhe, Einmal-Lanzetten, Abwurfbehälter; das Gerät zwischen Personen reinigen, wie der Hersteller es sagt.',
  ],
  when: germanDate,
  decimal: (text) => text.replace('.', ','),
  standing: (standing) => GERMAN_STANDINGS[standing],
  sure: (time, zone) =>
    germanDate(
      sureWords(time, zone)
        .replace('as the meter showed it, not checked', 'wie das Gerät es zeigte, nicht geprüft')
        .replace(/^not later than/, 'nicht nach')
        .replace(/^not earlier than/, 'nicht vor')
        .replace(/^between (.*) and /, 'zwischen $1 und ')
        .replace(/^sure$/, 'sicher')
        .replace(/\bdays\b/, 'Tage'),
    ),
  off: (seconds) =>
    seconds === 0 ? 'auf die Sekunde richtig' : `${germanSpan(Math.abs(seconds))} ${seconds < 0 ? 'nach' : 'vor'}`,
  incident({ kind, earliest, latest, sizeS }, zone) {
    const day = (at: Incident['earliest']): string => (at === undefined ? '' : germanDate(localDay(at, zone)));
    const [from, to] = [day(earliest), day(latest)];
    const when =
      from === to
        ? from === ''
          ? ''
          : ` (${from})`
        : ` (${[from && `ab ${from}`, to && `bis ${to}`].filter(Boolean).join(' ')})`;
    const size =
      sizeS === undefined || kind === 'fast-drift'
        ? ''
        : `, um ${germanSpan(Math.abs(sizeS))} ${sizeS > 0 ? 'vor' : 'zurück'}`;
    return `${GERMAN_INCIDENTS[kind]}${size}${when}.`;
  },
  reason({ code }) {
    const known = HOLD_CODES.find((c) => c === code);
    return known === undefined ? code : GERMAN_REASONS[known];
  },
  forecast(forecast, zone) {
    if (forecast.kind === 'unknown')
      return {
        'never-read': 'Das Gerät wurde nie ausgelesen.',
        'no-capacity': 'das Gerät sagt nicht, wie viel es fasst.',
        'no-pace': 'über den Gebrauch des Geräts ist zu wenig bekannt.',
      }[forecast.why];
    const day = germanDate(localDay(forecast.cautiousAt, zone));
    return forecast.isPast
      ? `Der ${day} ist vorbei: Vielleicht wurden Werte ungelesen überschrieben. Lesen Sie dieses Gerät öfter aus.`
      : `vor dem ${day}; danach werden vielleicht ungelesene Werte überschrieben.`;
  },
  tally: {
    title: 'Strichliste des Speichers',
    says: (fresh, known, open) => `${fresh} neu, ${known} bekannt, ${open} nicht gelesen.`,
    isNew: 'Jeder Strich ist ein Test, der älteste zuerst: kräftige sind neu, blasse bekannt.',
    control: 'Mit Fuß: ein Kontrolltest.',
    error: 'Unterbrochen: ein Fehltest.',
    open: 'Gepunktet: nicht gelesen.',
    torn: 'Gezackter Rand: Der Speicher ist voll, die ältesten werden überschrieben.',
  },
  sheet: 'Besuchsblatt',
  meter: (id) => `Gerät ${id}`,
  runningMeter: (id) => `Gerät ${id}`,
  notLent: 'an niemanden verliehen',
  lent: 'verliehen',
  read: (when) => `ausgelesen ${when}`,
  before: (when) => `, davor ${when}`,
  firstTime: ', zum ersten Mal',
  made: (when) => `Erstellt ${when}`,
  readHeading: 'Was gelesen wurde und was sich geändert hat',
  tests: (fresh, errors, known, complete) =>
    `${germanCount(fresh, 'neuer Test', 'neue Tests')}${errors > 0 ? `, darunter ${germanCount(errors, 'Fehltest', 'Fehltests')}` : ''}; ${known} bekannt. ${complete ? 'Der ganze Speicher wurde gelesen. ' : ''}Dieses Programm hat auf dem Gerät nichts gelöscht.`,
  critical: (n) =>
    `${germanCount(n, 'neuer Wert ist', 'neue Werte sind')} kritisch: nach den Regeln des Hauses bestätigen und handeln.`,
  brokeOff: 'Die Übertragung brach ab: Lesen Sie das Gerät noch einmal aus, bevor es geht.',
  vanished: (n) =>
    `${germanCount(n, 'früher gelesener Test ist', 'früher gelesene Tests sind')} nicht mehr im Gerät; hier aufbewahrt.`,
  possiblyLost: 'Vielleicht wurden Tests überschrieben, bevor jemand sie gelesen hat.',
  valueHeads: (zone) => [`Zeit (${zone})`, 'wie sicher', 'Wert', 'Lage'],
  timeUnknown: 'Zeit unbekannt',
  waits: ' (offen)',
  struckOut: ' (gestrichen)',
  olderValues: (n) =>
    `${germanCount(n, 'älterer neuer Wert steht', 'ältere neue Werte stehen')} im Bericht über die Person.`,
  sharedMeter: 'Das Gerät ist nicht verliehen: Von wem seine Messungen sind, steht bei jeder einzelnen.',
  targetSet: (low, high, from, on, by) =>
    `Der Zielbereich ${low} bis ${high}${from === undefined ? '' : `, gültig ab ${from},`} wurde am ${on} von ${by} gesetzt.`,
  nextDownload: (sentence) => `Nächste Auslesung: ${sentence}`,
  clockHeading: 'Uhr und Batterien',
  clock: (was, isSet) =>
    `Seine Uhr ${was === undefined ? 'wurde nicht gesehen' : `ging ${was}`}${isSet ? ' und wurde gestellt' : ''}.`,
  losses: (n) =>
    n === 0
      ? 'Von einem Stromausfall dieses Geräts ist nichts bekannt.'
      : `Soweit bekannt, verlor es ${n === 1 ? 'einmal' : `${n}-mal`} den Strom.`,
  batteries: 'Die Batterien sind immer wieder leer: Wechseln Sie sie jetzt, und sehen Sie nach den Kontakten.',
  nothingHappened: (isSince) => `Mit Uhr und Speicher geschah nichts${isSince ? ' seit der Auslesung davor' : ''}.`,
  keyHeading: 'Was ins Gerät einzugeben ist',
  keyHeads: ['was', 'eingeben', 'warum', 'getan'],
  dateAndTime: 'Datum und Uhrzeit',
  compareOnly: 'nur vergleichen',
  wallClock: (when) => `${when}, als dies erstellt wurde: nehmen Sie die Uhr an der Wand`,
  setByGateway: 'beim Auslesen gestellt',
  lostWithPower: 'mit dem Strom verloren',
  clockOff: 'die Uhr ging falsch',
  clockRight: 'war richtig: vergleichen',
  targetRange: 'Zielbereich',
  range: (low, high) => `${low} bis ${high}`,
  noTarget: 'hier keiner gesetzt: fragen',
  noTargetShared: 'gemeinsames Gerät: keiner',
  compare: 'vergleichen',
  stripCode: 'Streifen-Code',
  seeBox: 'siehe Packung',
  lotUnknown: (lot) => `Charge ${lot} ist nicht eingetragen`,
  lot: (lot, expiry) => `Charge ${lot}${expiry === undefined ? '' : `, haltbar bis ${germanDate(expiry)}`}`,
  noLot: 'kein Test nannte seine Charge',
  lotExpired: (lot) => `Die Streifen-Charge ${lot} ist abgelaufen: neue Streifen.`,
  askHeading: (isLent) => (isLent ? 'Was die Person zu fragen ist' : 'Was zu fragen ist, wer es benutzt'),
  nothingStandsOut: 'Nichts fällt auf.',
  on: (value, day) => `${value} am ${day}`,
  askCritical: (values) => `${values}: Hat die Praxis davon erfahren, und wurde es im Labor bestätigt?`,
  askMissed: (days, after, before) =>
    `${days} Tage ohne Test, ${before === undefined ? `seit ${after}` : `von ${after} bis ${before}`}: Was hat Sie abgehalten, und wurden anderswo Tests gemacht?`,
  askErrors: (errors, tests, from, until) =>
    `${errors} Fehltests unter ${tests} Tests von ${from} bis ${until}: Sehen Sie gemeinsam einen Test an.`,
  askError: (n) => `${germanCount(n, 'Test misslang', 'Tests misslangen')}: Was ist geschehen?`,
  askPower: 'Das Gerät verlor den Strom: Wurden die Batterien gewechselt, oder war es ausgesteckt? Wann?',
  askClock: 'Die Uhr wurde verstellt: Haben Sie sie gestellt?',
  askDeleted: 'Auf dem Gerät wurden Werte gelöscht: Von wem, und warum?',
  waitsHeading: 'Was offen ist',
  nothingWaits: 'Nichts.',
  more: (n) => `Und ${germanCount(n, 'älterer', 'ältere')}: siehe die Seite „Offen“.`,
  sign: ['gesehen am', 'Name', 'Unterschrift'],
};

/** The languages of the sheet. */
export const VISIT_WORDS = { en: english, de: german } as const satisfies Record<string, VisitWords>;
