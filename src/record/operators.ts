/** Who may use the desk. Each change is one transaction with its audit row. */
import { Fault } from '../core/fault.ts';
import type { OperatorRole, StoredOperator } from '../store/operators.ts';
import type { Store } from '../store/store.ts';
import { audit, type RecordContext } from './context.ts';

/** What may be changed of an operator; what is absent stays. `passphrase` is its stored form. */
export interface OperatorChange {
  readonly role?: OperatorRole;
  readonly passphrase?: string;
  readonly isRetired?: boolean;
}

/** Adds an operator; `passphrase` is its stored form. Throws NOT_POSSIBLE where the name is taken. */
export function addOperator(
  store: Store,
  context: Pick<RecordContext, 'now' | 'by'>,
  { name, role, passphrase }: Pick<StoredOperator, 'name' | 'role' | 'passphrase'>,
): StoredOperator {
  return store.db.write(() => {
    if (store.operators.find(name))
      throw new Fault('NOT_POSSIBLE', `There is an operator "${name}" already`, 'Take another name.');
    const operator = { name, role, passphrase, addedAt: context.now };
    store.operators.add(operator);
    audit(store, context, 'operator-added', `operator ${name}`, { role });
    return operator;
  });
}

/** Changes an operator. Throws OPERATOR_UNKNOWN, or NOT_POSSIBLE where nobody would manage the desk any more. */
export function changeOperator(
  store: Store,
  context: Pick<RecordContext, 'now' | 'by'>,
  name: string,
  change: OperatorChange,
): StoredOperator {
  return store.db.write(() => {
    const before = store.operators.find(name);
    if (!before)
      throw new Fault('OPERATOR_UNKNOWN', `There is no operator "${name}"`, '"tallydock operators list" shows them.');
    const { retiredAt, ...facts } = before;
    const isRetired = change.isRetired ?? retiredAt !== undefined;
    const after: StoredOperator = {
      ...facts,
      role: change.role ?? before.role,
      passphrase: change.passphrase ?? before.passphrase,
      ...(isRetired ? { retiredAt: retiredAt ?? context.now } : {}),
    };
    const managers = store.operators.list().filter((o) => o.role === 'manage' && o.retiredAt === undefined);
    const isLast = managers.length === 1 && managers[0]?.name === before.name;
    if (isLast && (after.role !== 'manage' || isRetired))
      throw new Fault('NOT_POSSIBLE', 'Somebody has to manage the desk', 'Give somebody else the role first.');
    store.operators.change(after);
    audit(store, context, 'operator-changed', `operator ${before.name}`, {
      role: after.role,
      retired: isRetired,
      'passphrase set': change.passphrase !== undefined,
    });
    return after;
  });
}
