/** Who may use the desk, for those who manage it. Every change is audited with the name of who made it. */
import { Hono } from 'hono';
import { z } from 'zod';
import { addOperator, changeOperator } from '../../record/operators.ts';
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
    return c.json(rowOf(addOperator(store, c.get('record'), { name, role, passphrase: form })));
  });
  app.put('/api/operators/:name', may('manage'), async (c) => {
    const { role, passphrase, isRetired } = await readBody(c, Change);
    const named = c.req.param('name');
    const form = passphrase === undefined ? undefined : await storedForm(passphrase, named);
    const changed = changeOperator(store, c.get('record'), named, {
      ...(role === undefined ? {} : { role }),
      ...(form === undefined ? {} : { passphrase: form }),
      ...(isRetired === undefined ? {} : { isRetired }),
    });
    if (form !== undefined || changed.retiredAt !== undefined) sessions.endAllOf(changed.name);
    return c.json(rowOf(changed));
  });
  return app;
}
