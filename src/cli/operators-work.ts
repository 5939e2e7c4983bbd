/** The work of `tallydock operators`. */
import { Fault } from '../core/fault.ts';
import { formatSeconds } from '../core/instant.ts';
import { storedForm } from '../desk/passphrase.ts';
import { addOperator, changeOperator } from '../record/operators.ts';
import type { OperatorRole, StoredOperator } from '../store/operators.ts';
import type { CommonOptions } from './common-options.ts';
import { note, print, printJson } from './output.ts';
import { passphraseOf } from './passphrase.ts';
import { localMinute } from './plain-time.ts';
import { makeTable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';
import { withStore } from './with-store.ts';

/** The options of adding one. */
export type AddCall = RecordOptions & { readonly role: OperatorRole; readonly passphraseFile?: string };

/** The options of changing one. */
export type ChangeCall = RecordOptions & {
  readonly role?: OperatorRole;
  readonly passphrase?: boolean;
  readonly passphraseFile?: string;
  readonly retire?: boolean;
  readonly return?: boolean;
};

const operatorJson = ({ name, role, addedAt, retiredAt }: StoredOperator) => ({
  name,
  role,
  added_at: formatSeconds(addedAt, 'round'),
  retired_at: retiredAt === undefined ? null : formatSeconds(retiredAt, 'round'),
});

/** Lists them. */
export function listOperators(options: CommonOptions): Promise<void> {
  return withStore(options, async ({ store, zone }) => {
    const operators = store.operators.list();
    if (options.json) for (const operator of operators) await printJson(operatorJson(operator));
    else if (operators.length === 0)
      await print('Nobody may sign in at the desk yet; the first run makes the first.\n');
    else
      await print(
        makeTable(['name', 'role', 'added', 'may sign in']).rows(
          operators.map((o) => [
            o.name,
            o.role,
            localMinute(o.addedAt, zone),
            o.retiredAt === undefined ? 'yes' : `not since ${localMinute(o.retiredAt, zone)}`,
          ]),
        ),
      );
  });
}

/** Adds one. Rejects with NOT_POSSIBLE, CALL_WRONG or REQUEST_WRONG for the passphrase. */
export function addAnOperator(name: string, options: AddCall): Promise<void> {
  return withRecord(options, async ({ store, context }) => {
    const passphrase = await formOf(name, options.passphraseFile);
    const operator = addOperator(store, context, { name: name.trim(), role: options.role, passphrase });
    if (options.json) await printJson(operatorJson(operator));
    else if (!options.quiet) note(`${operator.name} may sign in at the desk now.`);
  });
}

/** Changes one. Rejects with OPERATOR_UNKNOWN, NOT_POSSIBLE, CALL_WRONG or REQUEST_WRONG. */
export function changeAnOperator(name: string, options: ChangeCall): Promise<void> {
  const { role, retire, passphraseFile } = options;
  const hasPassphrase = options.passphrase === true || passphraseFile !== undefined;
  if (retire && options.return)
    throw new Fault('CALL_WRONG', '--retire and --return go against each other', 'Give one.');
  if (role === undefined && !hasPassphrase && !retire && !options.return)
    throw new Fault('CALL_WRONG', 'It is not said what to change', 'Add --role, --passphrase, --retire or --return.');
  return withRecord(options, async ({ store, context }) => {
    if (!store.operators.find(name))
      throw new Fault('OPERATOR_UNKNOWN', `There is no operator "${name}"`, '"tallydock operators list" shows them.');
    const passphrase = hasPassphrase ? await formOf(name, passphraseFile) : undefined;
    const operator = changeOperator(store, context, name, {
      ...(role === undefined ? {} : { role }),
      ...(passphrase === undefined ? {} : { passphrase }),
      ...(retire ? { isRetired: true } : options.return ? { isRetired: false } : {}),
    });
    if (options.json) await printJson(operatorJson(operator));
    else if (!options.quiet) note(`${operator.name} is changed.`);
  });
}

const formOf = async (name: string, file: string | undefined): Promise<string> =>
  storedForm(await passphraseOf(file, true, `Passphrase of ${name}: `), name);
