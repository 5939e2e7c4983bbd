/** Who changes the record, when, and by which rules: handed to everything that a person does here. */
import type { Policy } from '../clinic/rules/policy.ts';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';

export interface RecordContext {
  readonly now: Instant;
  /** The operator's name: stands in the audit chain and beside what was decided. */
  readonly by: string;
  readonly policy: Policy;
}

/** Notes in the audit chain what an operator did. */
export function audit(
  store: Store,
  context: Pick<RecordContext, 'now' | 'by'>,
  action: string,
  subject: string,
  detail: Readonly<Record<string, string | number | boolean | null>>,
): void {
  store.audit.append({ at: context.now, actor: context.by, action, subject, detail });
}

/** The person of an id. Throws PATIENT_UNKNOWN. */
export function patientOf(store: Store, id: string): StoredPatient {
  const found = store.patients.find(id);
  if (found) return found;
  throw new Fault('PATIENT_UNKNOWN', `There is no person "${id}"`, '"tallydock patients list" shows the ids.');
}
