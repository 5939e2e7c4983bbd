/**
 * Why a reading waits for a person, and what else is known of it. Each reason has a stable word and a sentence that
 * says what is doubtful; nothing here decides: an operator looks and releases, assigns or strikes out. Pure.
 */
import type { HoldingFlag } from '../../core/holding-flags.ts';
import type { Placement } from '../../core/placement.ts';
import type { ReadingKind, Value } from '../../core/reading.ts';
import type { Whose } from '../people/whose.ts';
import type { HoldLimits } from '../rules/hold-limits.ts';
import { median } from '../statistics/descriptive.ts';

/** Stable words for why a reading waits. README explains each. */
export const HOLD_CODES = [
  'conflict', // settling found two tests that claim one place, or values that differ between downloads
  'identity-shared', // two meters use one name
  'value-unreadable',
  'read-once', // read only once over a line whose check is weak
  'person-unknown',
  'person-unconfirmed', // somebody is proposed
  'person-doubtful',
  'time-displayed', // no clock of this meter was ever compared
  'time-wide', // its time is not known well enough
  'off-scale', // outside the measuring range
  'implausible',
  'values-disagree', // INR and PT do not fit each other for the strip lot
  'off-course', // far from the person's last values
  'lot-missing', // no strip lot is told
  'lot-unknown', // the strip lot is not in the register
  'lot-expired',
  'control-failed', // a control test failed on this meter and lot since the last good one
] as const;
export type HoldCode = (typeof HOLD_CODES)[number];

/** One reason. */
export interface Hold {
  readonly code: HoldCode;
  /** What is doubtful, for the nurse. */
  readonly sentence: string;
}

/** What is known of a reading when it is judged. */
export interface HoldFacts {
  readonly kind: ReadingKind;
  /** The meter's flags and the gateway's. */
  readonly flags: readonly string[];
  readonly values: readonly Value[];
  readonly placement?: Placement;
  /** Absent where no people are registered: then nobody can be asked for, and nothing below waits. */
  readonly whose?: Whose;
  /** The strip lot: as told, and what the register says; `isRegisterUsed` where any lot was ever entered. */
  readonly lot?: string;
  readonly lotState: 'good' | 'expired' | 'unknown';
  readonly isRegisterUsed: boolean;
  /** A sentence where INR and PT do not fit each other. */
  readonly disagreement?: string;
  /** The value by which it is judged; its first where absent. */
  readonly leading?: Value;
  /** The person's last clear values of the leading value's analyte before it, oldest first. */
  readonly course: readonly number[];
  /** A sentence where control tests say that the meter and lot cannot be trusted then. */
  readonly outOfControl?: string;
}

const SETTLING: Readonly<Record<string, Hold>> = {
  conflict: { code: 'conflict', sentence: 'Two tests claim the same place in the meter, so one of them may be wrong' },
  'readings-differ': { code: 'conflict', sentence: 'The meter told this test differently each time it was asked' },
  'value-unreadable': {
    code: 'value-unreadable',
    sentence: 'The value that the meter gave cannot be read as a number',
  },
  'identity-shared': {
    code: 'identity-shared',
    sentence: 'Two meters use the same serial number, so it is not known which of them made this test',
  },
} satisfies Readonly<Record<HoldingFlag, Hold>>;

/** The reasons for which a reading waits, the gravest first; none where it is clear. */
export function holdsOf(facts: HoldFacts, limits: HoldLimits): readonly Hold[] {
  const settling = facts.flags.flatMap((flag) => SETTLING[flag] ?? []);
  if (!facts.whose || facts.kind === 'error') return settling;
  const common = [...settling, ...readOnce(facts), ...timeHolds(facts, limits)];
  if (facts.kind === 'control') return common;
  return [
    ...common.slice(0, settling.length),
    ...personHolds(facts.whose),
    ...common.slice(settling.length),
    ...valueHolds(facts, limits),
    ...lotHolds(facts),
    ...(facts.outOfControl === undefined ? [] : [hold('control-failed', facts.outOfControl)]),
  ];
}

const hold = (code: HoldCode, sentence: string): Hold => ({ code, sentence });

const readOnce = ({ flags }: HoldFacts): readonly Hold[] =>
  flags.includes('single-read')
    ? [hold('read-once', 'It was read only once over a line whose check sum is weak; dock the meter again to be sure')]
    : [];

function personHolds(found: Whose): readonly Hold[] {
  switch (found.kind) {
    case 'known':
    case 'nobody':
      return [];
    case 'proposed':
      return [hold('person-unconfirmed', found.sentence)];
    case 'doubtful':
      return [hold('person-doubtful', found.sentence)];
    case 'unknown':
      return [hold('person-unknown', found.sentence)];
  }
}

const HOUR_MS = 3_600_000;

function timeHolds({ placement }: HoldFacts, limits: HoldLimits): readonly Hold[] {
  if (placement?.basis === 'displayed')
    return [
      hold('time-displayed', 'Its time is only what the meter showed; the clock was never compared with this PC'),
    ];
  const { earliest, latest } = placement ?? {};
  if (earliest === undefined || latest === undefined)
    return [hold('time-wide', 'It is not known between which moments this test was made')];
  const hours = (latest - earliest) / HOUR_MS;
  return hours > limits.widestHours
    ? [
        hold(
          'time-wide',
          `Its time is known only within ${inWords(hours)}; the limit here is ${inWords(limits.widestHours)}`,
        ),
      ]
    : [];
}

const inWords = (hours: number): string =>
  hours >= 48 ? `${Math.round(hours / 24)} days` : `${Math.round(hours)} hours`;

function valueHolds(facts: HoldFacts, limits: HoldLimits): readonly Hold[] {
  const held: Hold[] = [];
  for (const { analyte, value } of facts.values) {
    const beyond = /^[<>]/.exec(value)?.[0];
    if (beyond)
      held.push(
        hold('off-scale', `${analyte} ${value} lies outside the measuring range: confirm by a laboratory method`),
      );
    const plausible = limits.plausible[analyte];
    // What has a sign in front is no number here, so it is never implausible as well.
    const number = Number(value);
    if (plausible && (number < plausible.low || number > plausible.high))
      held.push(
        hold('implausible', `${analyte} ${value} is not plausible (here from ${plausible.low} to ${plausible.high})`),
      );
  }
  if (held.length === 0 && facts.flags.includes('rng'))
    held.push(hold('off-scale', 'The meter says that it lies outside the measuring range'));
  if (facts.disagreement !== undefined) held.push(hold('values-disagree', facts.disagreement));
  return [...held, ...courseHolds(facts, limits)];
}

function courseHolds(facts: HoldFacts, { farFromCourse }: HoldLimits): readonly Hold[] {
  const { values, leading = values[0], course } = facts;
  if (!leading || course.length < farFromCourse.last) return [];
  const value = Number(leading.value.replace(/^[<>]/, ''));
  const usual = median(course.slice(-farFromCourse.last));
  if (!(value > 0) || !(usual > 0)) return [];
  const isFar =
    Math.max(value / usual, usual / value) > farFromCourse.ratio && Math.abs(value - usual) > farFromCourse.difference;
  return isFar
    ? [
        hold(
          'off-course',
          `${leading.analyte} ${leading.value} is far from this person's last values (about ${usual.toFixed(1)})`,
        ),
      ]
    : [];
}

function lotHolds({ lot, lotState, isRegisterUsed }: HoldFacts): readonly Hold[] {
  if (lotState === 'expired')
    return [hold('lot-expired', `Strip lot ${lot ?? ''} had expired when this test was made`)];
  if (!isRegisterUsed) return [];
  if (lot === undefined) return [hold('lot-missing', 'The meter does not tell the strip lot of this test')];
  return lotState === 'unknown' ? [hold('lot-unknown', `Strip lot ${lot} is not in the register of lots`)] : [];
}
