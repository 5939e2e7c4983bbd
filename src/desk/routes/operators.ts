/** Who may use the desk, for those who manage it. Every change is audited with the name of who made it. */
import { Hono } from 'hono';
import { z } from 'zod';
import { Fault } from '../../core/fault.ts';
import type { StoredOperator } from '../../store/operators.ts';
import type { OperatorRow } from '../api/house.ts';
import { ROLES } from '../api/state.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import { storedForm } from '../passphrase.ts';
import { readBody } from '../read-request.ts';
import type { Sessions } from '../sessions.ts';
import type { DeskTools } from '../tools.ts';
import { OperatorName, Passphrase } from './session.ts';

const NewOperator = z.strictObject({ name: OperatorName, role: z.enum(ROLES), passphrase: Passphrase });
const Change = z.strictObject({
  role: z.enum(ROLES).exactOptional(),
  passphrase: Passphrase.exactOptional(),
  isRetired: z.boolean().exactOptional(),
});

const rowOf = ({ name, role, addedAt, retiredAt }: StoredOperator): OperatorRow => ({
  name,
  role,
  addedAt,
  isRetired: retiredAt !== undefined,
});

export function operatorRoutes(tools: DeskTools, sessions: Sessions): Hono<DeskEnv> {
  const { store } = tools;
  const app = new Hono<DeskEnv>();
  app.get('/api/operators', may('manage'), (c) => c.json(store.operators.list().map(rowOf)));
  app.post('/api/operators', may('manage'), async (c) => {
    const { name, role, passphrase } = await readBody(c, NewOperator);
    const form = await storedForm(passphrase, name);
    const { by, now } = c.get('record');
    return c.json(
      store.db.write(() => {
        if (store.operators.find(name))
          throw new Fault('NOT_POSSIBLE', `There is an operator "${name}" already`, 'Take another name.');
        const operator = { name, role, passphrase: form, addedAt: now };
        store.operators.add(operator);
        store.audit.append({
          at: now,
          actor: by,
          action: 'operator-added',
          subject: `operator ${name}`,
          detail: { role },
        });
        return rowOf(operator);
      }),
    );
  });
  app.put('/api/operators/:name', may('manage'), async (c) => {
    const { role, passphrase, isRetired } = await readBody(c, Change);
    const named = c.req.param('name');
    const form = passphrase === undefined ? undefined : await storedForm(passphrase, named);
    const { by, now } = c.get('record');
    const changed = store.db.write(() => {
      const before = store.operators.find(named);
      if (!before) throw new Fault('OPERATOR_UNKNOWN', `There is no operator "${named}"`, 'See the list.');
      const { retiredAt: _, ...facts } = before;
      const stays = isRetired ?? before.retiredAt !== undefined;
      const after: StoredOperator = {
        ...facts,
        role: role ?? before.role,
        passphrase: form ?? before.passphrase,
        ...(stays ? { retiredAt: before.retiredAt ?? now } : {}),
      };
      const managers = store.operators.list().filter((o) => o.role === 'manage' && o.retiredAt === undefined);
      const isLast = managers.length === 1 && managers[0]?.name === before.name;
      if (isLast && (after.role !== 'manage' || after.retiredAt !== undefined))
        throw new Fault('NOT_POSSIBLE', 'Somebody has to manage the desk', 'Give somebody else the role first.');
      store.operators.change(after);
      store.audit.append({
        at: now,
        actor: by,
        action: 'operator-changed',
        subject: `operator ${before.name}`,
        detail: { role: after.role, retired: stays, 'passphrase set': form !== undefined },
      });
      return after;
    });
    if (form !== undefined || changed.retiredAt !== undefined) sessions.endAllOf(changed.name);
    return c.json(rowOf(changed));
  });
  return app;
}
