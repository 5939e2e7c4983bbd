/**
 * `npm start [-- FOLDER]`: the whole job with two meters that do not exist. Installs and builds what is missing, puts the two
 * meters of Port Alder on TCP ports of this computer, collects both into ./demo (or FOLDER) with the real commands, and shows what
 * was found. Run again, it finds everything known: the meters are kept there as they were left.
 */
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import { ensureBuilt, ensurePackages, root } from './steps.mjs';

const ZONE = 'Europe/Lisbon';
const SEED = 20260301;
const folder = resolve(process.argv[2] ?? join(root, 'demo'));
const metersFile = join(folder, 'meters.json');
const fromHere = relative(process.cwd(), folder) || '.';
const shownFolder = fromHere.startsWith('..') ? folder : fromHere;

ensurePackages();
ensureBuilt();

const fromDist = (path) => import(new URL(`../dist/${path}`, import.meta.url).href);
const [
  { run },
  { portAlderMeters },
  { serveTcp },
  { virtualPort },
  { NO_FAULTS },
  { chanceFrom },
  { zoneOf },
  speakers,
] = await Promise.all([
  fromDist('cli/program.js'),
  fromDist('virtual/port-alder.js'),
  fromDist('virtual/serve.js'),
  fromDist('virtual/port.js'),
  fromDist('virtual/faults.js'),
  fromDist('virtual/chance.js'),
  fromDist('core/zone.js'),
  Promise.all([fromDist('virtual/speak-line.js'), fromDist('virtual/speak-astm.js')]),
]);
const [{ lineSpeaker }, { astmSpeaker }] = speakers;

/** Runs a command of the program and shows how it would be typed. */
async function tallydock(...args) {
  console.log(`\n$ tallydock ${args.join(' ')} --data ${shownFolder}`);
  const code = await run([...args, '--data', shownFolder]);
  if (code === 0) return;
  console.error(`The demo stopped: "tallydock ${args[0]}" ended with ${code}. Delete ${shownFolder} to start afresh.`);
  process.exit(1);
}

/** The two meters: new, or as the last run left them. */
function demoMeters() {
  const saved = existsSync(metersFile) ? JSON.parse(readFileSync(metersFile, 'utf8')) : undefined;
  const made = portAlderMeters(SEED, saved?.madeAt ?? Date.now(), zoneOf(ZONE));
  return {
    isFirst: saved === undefined,
    madeAt: saved?.madeAt ?? Date.now(),
    meters: made.map((demo, i) => ({ ...demo, meter: saved?.meters[i] ?? demo.meter })),
  };
}

mkdirSync(folder, { recursive: true, mode: 0o700 });
if (!existsSync(join(folder, 'config.toml'))) writeFileSync(join(folder, 'config.toml'), `zone = "${ZONE}"\n`);

const { isFirst, madeAt, meters } = demoMeters();
const left = [];
console.log(
  'Port Alder, an island town that does not exist. Two meters are on the dock of its anticoagulation clinic.',
);
if (!isFirst) console.log('They were read before: what they hold is known.');
for (const { what, profile, meter } of meters) {
  console.log(`\n${meter.id}: ${what}.`);
  const speaker = profile.startsWith('astm') ? astmSpeaker() : lineSpeaker();
  const served = await serveTcp(
    virtualPort(speaker, meter, NO_FAULTS, chanceFrom(SEED), () => Date.now()),
    0,
  );
  try {
    await tallydock('collect', served.where, '--profile', profile);
    left.push(served.meter());
  } finally {
    await served.close();
  }
}
writeFileSync(metersFile, JSON.stringify({ madeAt, meters: left }), { mode: 0o600 });

const [home] = meters;
const since = new Date(madeAt - 100 * 86_400_000).toISOString().slice(0, 10);
await tallydock('meters');
await tallydock('incidents');
await tallydock('readings', '--meter', home.meter.id, '--since', since);
const csv = join(shownFolder, 'readings.csv');
await tallydock('export', 'csv', '--out', csv);

console.log(`
The meter of the home tester had lost its clock: what it said of its last tests lies in the year 2000. Their true
times, and how sure they are, stand in the table above.

The CSV with everything is ${csv}.

What to try next (after "npm link", or with "node dist/cli/main.js" in place of "tallydock"):
  npm start                                          once more: everything is known, nothing is stored twice
  tallydock readings --data ${shownFolder}                     all readings
  tallydock explain READING --data ${shownFolder}              why a reading has its time, byte for byte
  tallydock virtual-meter --tcp 4001 --clock-lost    a meter of your own to play with
  tallydock collect PORT                             a real one

Not a medical device, and never a dose. Delete ${shownFolder} whenever you like.`);
