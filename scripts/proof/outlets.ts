/**
 * Exactly once and in order: the gateway that feeds an outlet is killed without warning in the middle of its work, two
 * hundred times for each kind, and so is the receiver (PostgreSQL by killing the server; the others by cutting the way
 * to them or taking their folder away). In the end every receiver has each version of each reading once, in the order of
 * the log, and each reading as it stands. `npm run proof outlets -- --rounds=200 --only=csv,postgres`
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { killRounds } from '../../tests/outlets/kill-rounds.ts';
import { postgresKind, RIG_KINDS, type Rig, type RigKind } from '../../tests/outlets/rigs.ts';
import { makePostgres, type PostgresServer } from '../../tests/support/postgres.ts';
import { seedOr } from '../../tests/support/seed.ts';

const SEED = seedOr(20260301);
const option = (name: string): string | undefined =>
  process.argv.find((arg) => arg.startsWith(`--${name}=`))?.slice(name.length + 3);
const ROUNDS = Number(option('rounds') ?? 200);
const ONLY = option('only')?.split(',');

console.log(`  seed ${SEED}, ${ROUNDS} kills of the gateway and ${ROUNDS} of the receiver for each kind`);
const server = await makePostgres();

/** The server itself is killed, not only the way to it. */
const killedServer = (rig: Rig, of: PostgresServer): Rig => ({ ...rig, takeAway: of.kill, bringBack: of.start });

const kinds: readonly RigKind[] = [...RIG_KINDS, postgresKind(() => server)].filter(
  ({ name }) => !ONLY || ONLY.some((wanted) => name.startsWith(wanted)),
);
let wrong = 0;
try {
  for (const kind of kinds)
    for (const victim of ['gateway', 'receiver'] as const) {
      const dir = mkdtempSync(join(tmpdir(), 'tallydock-proof-'));
      const made = await kind.make(dir);
      const rig = kind.name === 'postgres' && victim === 'receiver' ? killedServer(made, server) : made;
      try {
        const outcome = await killRounds({ rig, dir: join(dir, 'store'), victim, rounds: ROUNDS, seed: SEED });
        console.log(
          `  ${kind.name}, ${victim} killed ${ROUNDS} times, ${outcome.hit} of them with work left: ` +
            `${outcome.versions} versions arrived, ${outcome.problems.length} problems`,
        );
        for (const problem of outcome.problems.slice(0, 10)) console.error(`    ${problem}`);
        wrong += outcome.problems.length;
      } finally {
        await made.dispose();
        rmSync(dir, { recursive: true, force: true });
      }
    }
} finally {
  await server.dispose();
}
process.exitCode = wrong > 0 ? 1 : 0;
