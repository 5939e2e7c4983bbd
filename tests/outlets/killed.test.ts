/** A slice of the long demonstration (scripts/proof/outlets.ts): gateway and receiver are killed in the middle of their work. */
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { tempFolder } from '../store/temp-store.ts';
import { makePostgres, type PostgresServer } from '../support/postgres.ts';
import { seedOr } from '../support/seed.ts';
import { killRounds } from './kill-rounds.ts';
import { postgresKind, RIG_KINDS, type RigKind } from './rigs.ts';

const SEED = seedOr(20260301);

let server: PostgresServer;
beforeAll(async () => {
  server = await makePostgres();
}, 60_000);
afterAll(() => server.dispose());

const kinds = [...RIG_KINDS.filter(({ name }) => name !== 'csv, a file a day'), postgresKind(() => server)];

describe.each<RigKind>(kinds)('the outlet $name', (kind) => {
  it.each(['gateway', 'receiver'] as const)(
    `has everything once and in order after three kills of the %s (SEED=${SEED})`,
    async (victim) => {
      const rig = await kind.make(tempFolder());
      onTestFinished(() => rig.dispose());
      const outcome = await killRounds({ rig, dir: tempFolder(), victim, rounds: 3, seed: SEED });
      expect(outcome.problems).toEqual([]);
      expect(outcome.versions).toBeGreaterThan(29);
    },
    120_000,
  );
});
