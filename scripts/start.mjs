/**
 * `npm start [-- FOLDER]`: a year of the anticoagulation clinic of Port Alder, which does not exist, in ./demo (or
 * FOLDER). Installs and builds what is missing, takes the year in with the real commands, then reads two meters that
 * are on the dock today over TCP ports of this computer, and shows what waits. Run again, it finds everything known.
 *
 * PORT_ALDER_HOMES and PORT_ALDER_DAYS make a smaller year, for tests.
 */
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import { ensureBuilt, ensurePackages, root } from './steps.mjs';

const ZONE = 'Europe/Lisbon';
const SEED = 20260301;
const HOMES = Number(process.env.PORT_ALDER_HOMES ?? 40);
const DAYS = Number(process.env.PORT_ALDER_DAYS ?? 365);
const folder = resolve(process.argv[2] ?? join(root, 'demo'));
const year = join(folder, 'year');
const captures = join(year, 'captures');
const metersFile = join(folder, 'meters.json');
const fromHere = relative(process.cwd(), folder) || '.';
const shownFolder = fromHere.startsWith('..') ? folder : fromHere;

ensurePackages();
ensureBuilt();

const fromDist = (path) => import(new URL(`../dist/${path}`, import.meta.url).href);
const [
  { run },
  { COMMANDS },
  { portAlderMeters },
  { portAlderYear },
  { formatCapture },
  { serveTcp },
  { virtualPort },
  { NO_FAULTS },
  { chanceFrom },
  { zoneOf },
  { lineSpeaker },
  { astmSpeaker },
] = await Promise.all([
  fromDist('cli/program.js'),
  fromDist('cli/commands.js'),
  fromDist('virtual/port-alder.js'),
  fromDist('virtual/port-alder-year.js'),
  fromDist('wire/capture-file.js'),
  fromDist('virtual/serve.js'),
  fromDist('virtual/port.js'),
  fromDist('virtual/faults.js'),
  fromDist('virtual/chance.js'),
  fromDist('core/zone.js'),
  fromDist('virtual/speak-line.js'),
  fromDist('virtual/speak-astm.js'),
]);

/** Ends the demo where a command did not do what it should. */
function stopped(command, code, said) {
  console.error(
    `${said}The demo stopped: "tallydock ${command}" ended with ${code}. Delete ${shownFolder} to start afresh.`,
  );
  process.exit(1);
}

/** Runs a command of the program and shows how it would be typed. */
async function tallydock(...args) {
  console.log(`\n$ tallydock ${args.join(' ')} --data ${shownFolder}`);
  const code = await run([...args, '--data', shownFolder]);
  if (code !== 0) stopped(args[0], code, '');
}

/** Runs a command and gives what it said on stdout, line by line, instead of showing it. */
async function quietly(...args) {
  const [toOut, toErr] = [process.stdout.write, process.stderr.write];
  let out = '';
  let errors = '';
  process.stdout.write = (text, done) => {
    out += text;
    done?.();
    return true;
  };
  process.stderr.write = (text, done) => {
    errors += text;
    if (typeof done === 'function') done();
    return true;
  };
  let code;
  try {
    code = await run([...args, '--data', shownFolder]);
  } finally {
    process.stdout.write = toOut;
    process.stderr.write = toErr;
  }
  if (code !== 0) stopped(args[0], code, errors);
  return out.split('\n').filter((line) => line !== '');
}

/** Runs a command and shows only the last line of what it said. */
async function lastOf(shown, ...args) {
  const said = await quietly(...args);
  console.log(`$ tallydock ${shown}\n    ${said.at(-1) ?? 'nothing new'}`);
}

mkdirSync(captures, { recursive: true, mode: 0o700 });
if (!existsSync(join(folder, 'config.toml')))
  writeFileSync(join(folder, 'config.toml'), `zone = "${ZONE}"\n\n[clinic]\nid-check = "mod11-10"\n`);

const saved = existsSync(metersFile) ? JSON.parse(readFileSync(metersFile, 'utf8')) : undefined;
const isFirst = saved === undefined;
const madeAt = saved?.madeAt ?? Date.now();
const zone = zoneOf(ZONE);
const clinic = portAlderYear({ seed: SEED, until: madeAt, zone, homes: HOMES, days: DAYS });
const inYear = (name) => join(year, name);
const by = ['--by', 'Demo'];

console.log('Port Alder, an island town that does not exist, and a year of its anticoagulation clinic:');
console.log(`${clinic.people.length} people, ${clinic.meters.length + 2} meters, ${clinic.captures.length} downloads.`);
console.log(
  isFirst ? 'It is taken in with the real commands.\n' : 'All of it was taken in before: everything should be known.\n',
);

if (isFirst) {
  for (const { name, capture } of clinic.captures) writeFileSync(join(captures, name), formatCapture(capture));
  for (const [name, text] of [
    ['former.csv', clinic.former],
    ['people.csv', clinic.present],
    ['targets.csv', clinic.targets],
    ['appointments.csv', clinic.appointments],
    ['laboratory.csv', clinic.laboratory],
  ])
    writeFileSync(inYear(name), text);
  await quietly('patients', 'import', inYear('former.csv'), ...by);
  for (const { meter, patientId, from, until } of clinic.pastLends)
    await quietly('lend', meter, patientId, '--from', from, '--until', until, ...by);
  for (const { lot, code, expiry } of clinic.lots)
    await quietly('lots', 'add', lot, '--expiry', expiry, '--code', code, '--isi', '1.0', '--mnpt', '11.5', ...by);
  for (const { lot, level, mean, sd, isElectronic } of clinic.controls)
    await quietly(
      'controls',
      'add',
      lot,
      level,
      '--mean',
      mean,
      '--sd',
      sd,
      ...(isElectronic ? ['--electronic'] : []),
      ...by,
    );
  console.log(`${clinic.lots.length} strip lots and ${clinic.controls.length} controls were entered.`);
}
await lastOf('patients import people.csv', 'patients', 'import', inYear('people.csv'), ...by);
await lastOf('patients import targets.csv', 'patients', 'import', inYear('targets.csv'), ...by);
await lastOf('appointments import appointments.csv', 'appointments', 'import', inYear('appointments.csv'), ...by);
const files = readdirSync(captures)
  .sort()
  .map((name) => join(captures, name));
await lastOf('replay year/captures/*.capture.jsonl', 'replay', ...files);
await lastOf('lab import laboratory.csv', 'lab', 'import', inYear('laboratory.csv'), ...by);

console.log('\nTwo meters are on the dock today.');
const made = portAlderMeters(SEED, madeAt, zone, clinic.courses);
const left = [];
for (const [i, { what, profile, meter: asMade }] of made.entries()) {
  const meter = saved?.meters[i] ?? asMade;
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

/** The readings that wait, as "holds --json" tells them. */
const waiting = async () => (await quietly('holds', '--json')).map((line) => JSON.parse(line));
/** The first `count` readings that wait for this reason alone. */
const waitingFor = (held, reason, count) =>
  held
    .filter(({ holds }) => holds.length === 1 && holds[0].code === reason)
    .slice(0, count)
    .map((hold) => hold.reading_id);
if (isFirst) {
  const held = await waiting();
  const proposed = waitingFor(held, 'person-unconfirmed', 2);
  if (proposed.length > 0)
    await tallydock('assign', ...proposed, '--proposed', '--reason', 'asked by telephone', ...by);
  const surprising = waitingFor(held, 'off-course', 1);
  if (surprising.length > 0) await tallydock('release', ...surprising, '--reason', 'repeated, the same', ...by);
}
console.log('\nWhat waits for a person, by reason ("tallydock holds" lists them):');
const reasons = new Map();
const held = await waiting();
for (const hold of held) for (const { code } of hold.holds) reasons.set(code, (reasons.get(code) ?? 0) + 1);
for (const [reason, count] of [...reasons].sort((a, b) => b[1] - a[1]))
  console.log(`  ${String(count).padStart(4)}  ${reason}`);
console.log(`  ${String(held.length).padStart(4)}  readings wait in all`);

const person = clinic.people[Math.min(17, HOMES) - 1].id;
const page = join(folder, `${person}.html`);
if ('report' in COMMANDS) {
  await quietly('report', 'patient', person, '--out', page);
  console.log(`\n$ tallydock report patient ${person}\n    ${join(shownFolder, `${person}.html`)}`);
}
const csv = join(shownFolder, 'readings.csv');
await tallydock('export', 'csv', '--out', csv);

console.log(`
The meter of ${person} had lost its clock: what it said of its last tests lies in the year 2000. Their true times, and
how sure they are, stand in "tallydock readings --meter PA-H017 --data ${shownFolder}".

The year's tables and captures are in ${join(shownFolder, 'year')}, the CSV with all readings is ${csv}.

What to try next (after "npm link", or with "node dist/cli/main.js" in place of "tallydock"):
  npm start                                          once more: everything is known, nothing is stored twice
  tallydock serve --data ${shownFolder}                        the desk: open http://127.0.0.1:4780/ in a browser
  tallydock patients list --data ${shownFolder}                everybody, with target and last reading
  tallydock holds --data ${shownFolder}                        what waits, and why
  tallydock incidents --data ${shownFolder}                    what happened to clocks and memories
  tallydock explain READING --data ${shownFolder}              why a reading has its time, byte for byte
  tallydock virtual-meter --tcp 4001 --clock-lost    a meter of your own to play with
  tallydock collect PORT                             a real one

Not a medical device, and never a dose. Delete ${shownFolder} whenever you like.`);
