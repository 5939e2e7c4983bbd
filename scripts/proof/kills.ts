/**
 * Kills `tallydock collect` without warning at random moments of its run (not while Node itself still starts, where
 * nothing can be lost), a new meter each time. After every kill the
 * store opens and is sound, nothing that was stored is gone, and the next collect completes that meter. At the end a
 * rebuild from the stored bytes gives the identical result. `npm run proof kills -- --kills=200`
 */
import { once } from 'node:events';
import { join } from 'node:path';
import { openSqlite } from '../../src/store/sqlite.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { makeProgram } from '../../tests/support/run-program.ts';
import { seedOr } from '../../tests/support/seed.ts';
import { serveMeter } from '../../tests/support/served-meter.ts';

const SEED = seedOr(20260301);
const KILLS = Number(process.argv.find((arg) => arg.startsWith('--kills='))?.slice('--kills='.length) ?? 200);
const HELD = 60;
/** Fast enough for two hundred runs, slow enough that most kills hit the reading. */
const BAUD = 115_200;

const program = makeProgram();
const chance = chanceFrom(SEED);
const problems: string[] = [];
const hit = { before: 0, reading: 0, after: 0 };
console.log(`  seed ${SEED}, ${KILLS} kills, ${HELD} tests in each meter`);

/** What the store holds: every reading with its content, and how many conversations nobody has finished. */
interface Stored {
  readonly readings: ReadonlyMap<string, string>;
  readonly open: number;
}

/** Opens the store as the next program would, and asks SQLite whether it is sound. */
function look(): Stored {
  const db = openSqlite(join(program.data, 'tallydock.db'));
  try {
    const verdict = db.pragma('integrity_check', { simple: true });
    if (verdict !== 'ok') problems.push(`integrity_check says ${verdict}`);
    const rows = db
      .prepare(`SELECT reading_id AS id, meter_time || coalesce(group_concat(value, ' '), '') AS content
        FROM reading LEFT JOIN reading_value USING (reading_id) GROUP BY reading_id`)
      .all() as { id: string; content: string }[];
    const open = Number(db.prepare('SELECT count(*) FROM capture WHERE arrival IS NULL').pluck().get());
    return { readings: new Map(rows.map((row) => [row.id, row.content])), open };
  } finally {
    db.close();
  }
}

/** Which readings of `before` are missing or changed in `after`. */
const lostFrom = (before: Stored, after: Stored): string[] =>
  [...before.readings].filter(([id, content]) => after.readings.get(id) !== content).map(([id]) => id);

async function collectWhole(where: string, round: number): Promise<number> {
  const start = performance.now();
  const { code, stderr } = await program.run('collect', where, '--quiet');
  if (code !== 0) problems.push(`round ${round}: the collect after the kill ended with ${code}: ${stderr.trim()}`);
  return performance.now() - start;
}

try {
  const first = await serveMeter({ id: 'PA-K000', held: HELD, faults: { baud: BAUD } });
  let runMs = await collectWhole(first.where, 0);
  await first.close();
  let before = look();
  for (let round = 1; round <= KILLS; round++) {
    const id = `PA-K${String(round).padStart(3, '0')}`;
    const served = await serveMeter({ id, held: HELD, faults: { baud: BAUD } });
    const child = program.start('collect', served.where, '--quiet');
    const closed = once(child, 'close');
    const timer = setTimeout(() => child.kill('SIGKILL'), chance.between(0.35 * runMs, runMs));
    const [code] = await closed;
    clearTimeout(timer);
    const between = look();
    const lost = lostFrom(before, between);
    if (lost.length > 0) problems.push(`round ${round}: the kill lost ${lost.join(', ')}`);
    if (code === 0) hit.after++;
    else if (between.open > 0) hit.reading++;
    else hit.before++;
    runMs = (runMs * 4 + (await collectWhole(served.where, round))) / 5;
    await served.close();
    const after = look();
    const gone = lostFrom(between, after);
    if (gone.length > 0) problems.push(`round ${round}: the next collect lost ${gone.join(', ')}`);
    if (after.readings.size !== before.readings.size + HELD)
      problems.push(`round ${round}: ${after.readings.size - before.readings.size} readings of ${HELD} from ${id}`);
    before = after;
    if (round % 20 === 0) console.log(`  ${round} kills, ${problems.length} problems`);
  }
  const rebuilt = await program.run('rebuild');
  if (rebuilt.code !== 0) problems.push(`rebuild: ${rebuilt.stdout}${rebuilt.stderr}`);
  console.log(
    `  ${KILLS} runs: ${hit.reading} killed while a conversation was open, ${hit.before} before it or with nothing open, ${hit.after} had ended by themselves`,
  );
  console.log(
    `  ${before.readings.size} readings stored, ${problems.length} problems, rebuild: ${rebuilt.stdout.trim()}`,
  );
} finally {
  program.dispose();
}
for (const problem of problems) console.error(`  ${problem}`);
process.exitCode = problems.length > 0 ? 1 : 0;
