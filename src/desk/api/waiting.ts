/** What waits for a person (`GET /api/waiting`), and what she says of it. Types only. */

import type { TimeSpan } from '../../clinic/facts.ts';
import type { HoldCode } from '../../clinic/holds/hold.ts';
import type { Standing } from '../../core/outgoing.ts';
import type { Incident } from '../../core/placement.ts';
import type { ReadingKind, Value } from '../../core/reading.ts';
import type { PersonName } from './live.ts';

/** One reading that waits, with what there is to judge it by. Times are milliseconds since 1970 UTC. */
export interface WaitingItem {
  readonly readingId: string;
  readonly meterId: string;
  readonly model: string;
  readonly kind: ReadingKind;
  readonly values: readonly Value[];
  /** By the limits of this clinic. */
  readonly isCritical: boolean;
  /** Absent where nothing is known of its time. */
  readonly time?: TimeSpan;
  /** As the meter showed it, local, without zone. */
  readonly meterTime?: string;
  /** What was keyed into the meter as the patient's id. */
  readonly keyedPatient?: string;
  readonly operator?: string;
  readonly lot?: string;
  /** Expiry of the lot as registered or as the meter told it. */
  readonly lotExpiry?: string;
  readonly person?: PersonName;
  readonly proposed?: PersonName;
  readonly standing?: Standing;
  /** Why it waits, the gravest first; those already released are left out. */
  readonly holds: readonly { readonly code: HoldCode; readonly sentence: string }[];
  readonly evidence: {
    /** Appointments around its time, the nearest first. */
    readonly appointments: readonly (PersonName & { readonly at: number })[];
    /** The person's last clear values before it, oldest first. */
    readonly lastValues: readonly { readonly at: number; readonly value: number; readonly beyond?: '<' | '>' }[];
    /** In force for the person at its time. */
    readonly target?: { readonly low: number; readonly high: number };
    /** What happened to the meter's clock around its time, the newest three. */
    readonly incidents: readonly (Pick<Incident, 'kind' | 'sizeS' | 'explanation'> & {
      readonly earliest?: number;
      readonly latest?: number;
    })[];
    /** Who has or had the meter. */
    readonly holders: readonly (PersonName & { readonly from: number; readonly to?: number })[];
  };
}

/** `GET /api/waiting?offset=0&limit=200`: the newest test first; those whose value is critical before all others. */
export interface WaitingList {
  readonly total: number;
  readonly items: readonly WaitingItem[];
}

/** `POST /api/readings/assign` (patientId null: nobody of ours) | `release` | `strike-out` | `undo`. */
export interface Decide {
  readonly readings: readonly string[];
  readonly patientId?: string | null;
  readonly reason: string;
}

/** The answer: how many readings were decided, and how many wait now. */
export interface Decided {
  readonly decided: number;
  readonly waiting: number;
}
