/**
 * What is shipped besides our own code: the packages that an install brings, and those that are built into the desk's
 * page. From the lock file and the page's imports, as plain data: a bill of materials, a list of licences, and what is
 * wrong with a licence. Pure but for the functions at the end that read and write files.
 */
import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { isBuiltin } from 'node:module';
import { join } from 'node:path';

/**
 * Licences (SPDX) that a shipped package may have: all of them let a clinic use, keep and pass on the program without
 * asking anybody. None asks for the source of what stands beside it: MPL-2.0 asks for its own files only. Unlicense and
 * BlueOak-1.0.0 would do as well, but no package here has them; they come in with the first that does.
 */
export const ALLOWED = ['MIT', 'ISC', '0BSD', 'BSD-2-Clause', 'BSD-3-Clause', 'Apache-2.0', 'MPL-2.0'];

/**
 * Whether an SPDX expression leaves a choice that is allowed: one of the parts around OR, all of the parts around AND.
 * Anything else (WITH, brackets inside brackets, free text, nothing) is not understood, and so not allowed.
 */
export function isAllowed(expression) {
  if (typeof expression !== 'string') return false;
  const bare = /^\(([^()]*)\)$/.exec(expression)?.[1] ?? expression;
  return bare.split(' OR ').some((choice) => choice.split(' AND ').every((id) => ALLOWED.includes(id)));
}

/** One sentence for each shipped package whose licence is not allowed. */
export const licenceTrouble = (components) =>
  components
    .filter(({ licence }) => !isAllowed(licence))
    .map(({ name, version, licence }) => `${name} ${version}: ${licence ?? 'no licence is named'}`);

/** How a module names another: at the start of a line, or asked for later. A relative path is no package. */
const NAMED = [
  /^\s*(?:import|export)\b[^'";]*\bfrom\s+['"]([@a-zA-Z][^'"]*)['"]/gm,
  /^\s*import\s+['"]([@a-zA-Z][^'"]*)['"]/gm,
  /\bimport\(\s*['"]([@a-zA-Z][^'"]*)['"]\s*\)/g,
];

/** The packages that source texts import: the name of each, without what stands behind it; nothing of Node itself. */
export function importedPackages(sources) {
  const paths = sources.flatMap((source) => NAMED.flatMap((how) => [...source.matchAll(how)].map(([, path]) => path)));
  const packages = paths
    .filter((path) => !isBuiltin(path))
    .map((path) => /^(?:@[^/]+\/)?[^/]+/.exec(path)?.[0] ?? path);
  return [...new Set(packages)].sort();
}

/**
 * The shipped packages, by name and version: everything that the lock file reaches from the dependencies of the program,
 * and from the packages built into the page (`bundled`: their names). Throws where the lock file lacks one of them.
 */
export function componentsOf(lock, bundled) {
  const found = new Map();
  const visit = (path, isBundled) => {
    const entry = lock.packages[path];
    const key = `${nameAt(path)}@${entry.version}`;
    const known = found.get(key);
    if (known && (known.isBundled === isBundled || isBundled)) return key;
    const component = {
      name: nameAt(path),
      version: entry.version,
      licence: entry.license,
      integrity: entry.integrity,
      isOptional: entry.optional === true,
      // What is installed and built in is listed as installed: that says more of where its code runs.
      isBundled,
      uses: [],
    };
    found.set(key, component);
    component.uses = wantedBy(entry, path, lock).map((at) => visit(at, isBundled));
    return key;
  };
  const uses = Object.keys(lock.packages[''].dependencies ?? {}).map((name) => visit(resolveIn(lock, '', name), false));
  const usesBundled = bundled.map((name) => visit(resolveIn(lock, '', name), true));
  const components = [...found.values()].sort((a, b) => (keyOf(a) < keyOf(b) ? -1 : 1));
  return { components, uses: [...new Set([...uses, ...usesBundled])].sort() };
}

const keyOf = ({ name, version }) => `${name}@${version}`;

/** The name of the package at a place of the lock file. */
const nameAt = (path) => path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length);

/** Where a package finds the packages that it needs; optional ones only where the lock file has them. */
function wantedBy(entry, path, lock) {
  const peers = Object.keys(entry.peerDependencies ?? {}).filter(
    (name) => !entry.peerDependenciesMeta?.[name]?.optional,
  );
  const needed = [...Object.keys(entry.dependencies ?? {}), ...peers];
  const wished = Object.keys(entry.optionalDependencies ?? {}).filter((name) => !needed.includes(name));
  return [
    ...needed.map((name) => resolveIn(lock, path, name)),
    ...wished.flatMap((name) => resolveIn(lock, path, name, true) ?? []),
  ];
}

/** Where Node would find a package that is asked for from a place: beside it, else further out. */
function resolveIn(lock, from, name, mayLack = false) {
  for (let at = from; ; ) {
    const path = at === '' ? `node_modules/${name}` : `${at}/node_modules/${name}`;
    if (lock.packages[path]) return path;
    if (at === '') break;
    at = at.slice(0, Math.max(0, at.lastIndexOf('/node_modules/')));
  }
  if (mayLack) return undefined;
  throw new Error(`package-lock.json has no ${name}, which ${from || 'the program'} needs`);
}

/** The package URL, by the rules of its type "npm". */
const purlOf = (key) => `pkg:npm/${key.startsWith('@') ? `%40${key.slice(1)}` : key}`;

/** The SHA-512 of a package's archive, from the lock file's own form of it. Throws where it is another hash. */
function hashesOf({ name, integrity }) {
  const [, base64] = /^sha512-([A-Za-z0-9+/]{86}==)$/.exec(integrity ?? '') ?? [];
  if (!base64) throw new Error(`package-lock.json has no SHA-512 of ${name}`);
  return [{ alg: 'SHA-512', content: Buffer.from(base64, 'base64').toString('hex') }];
}

const licencesOf = (licence) => (/[ ()]/.test(licence) ? [{ expression: licence }] : [{ license: { id: licence } }]);

/**
 * The bill of materials, CycloneDX 1.6 as JSON data. It holds no time and no chance: the same lock file gives the same
 * bill, and its serial number is made of what it says.
 */
export function billOf({ name, version, license }, { components, uses }) {
  const self = purlOf(`${name}@${version}`);
  const said = {
    version: 1,
    metadata: {
      component: { type: 'application', 'bom-ref': self, name, version, purl: self, licenses: licencesOf(license) },
    },
    components: components.map((c) => ({
      type: 'library',
      'bom-ref': purlOf(keyOf(c)),
      ...groupAndName(c.name),
      version: c.version,
      scope: c.isOptional ? 'optional' : 'required',
      hashes: hashesOf(c),
      licenses: licencesOf(c.licence),
      purl: purlOf(keyOf(c)),
      properties: [
        { name: 'tallydock:delivery', value: c.isBundled ? 'built into the page of the desk' : 'installed' },
      ],
    })),
    dependencies: [
      { ref: self, dependsOn: uses.map(purlOf) },
      ...components.map((c) => ({ ref: purlOf(keyOf(c)), dependsOn: [...new Set(c.uses)].sort().map(purlOf) })),
    ],
  };
  return {
    bomFormat: 'CycloneDX',
    specVersion: '1.6',
    serialNumber: `urn:uuid:${uuidOf(JSON.stringify(said))}`,
    ...said,
  };
}

function groupAndName(full) {
  const [, group, name] = /^(@[^/]+)\/(.+)$/.exec(full) ?? [];
  return group ? { group, name } : { name: full };
}

/** A UUID (RFC 9562, version 8: of the maker's own making) from the hash of a text. */
function uuidOf(text) {
  const hex = createHash('sha256').update(text).digest('hex');
  const variant = ((Number.parseInt(hex.slice(16, 18), 16) & 0x3f) | 0x80).toString(16);
  return [
    hex.slice(0, 8),
    hex.slice(8, 12),
    `8${hex.slice(13, 16)}`,
    `${variant}${hex.slice(18, 20)}`,
    hex.slice(20, 32),
  ].join('-');
}

/** The list of licences for people. `texts`: the whole licence of each built-in package, by its name. */
export function licenceList({ name, version }, components, texts) {
  const row = (c) =>
    `| ${c.name} | ${c.version} | ${c.licence} | ${c.isBundled ? 'built into the page of the desk' : 'installed'} |`;
  return `# What ${name} ${version} is made with

Besides our own code (MIT, see \`LICENSE\`) it is made with the packages below. What is *installed* comes as a package of
its own with its licence beside it; \`better-sqlite3\` holds SQLite, which is in the public domain. What is *built into the
page of the desk* has its licence here in full. \`sbom.cdx.json\` says the same to programs (CycloneDX 1.6).

| package | version | licence (SPDX) | how it comes |
| --- | --- | --- | --- |
${components.map(row).join('\n')}
${components
  .filter((c) => c.isBundled)
  .map((c) => `\n## ${c.name} ${c.version}\n\n${quote(textOf(c.name, texts))}\n`)
  .join('')}`;
}

function textOf(name, texts) {
  const text = texts[name];
  if (!text) throw new Error(`${name} is built into the page, but its licence was not found`);
  return text;
}

const quote = (text) =>
  text
    .trim()
    .split(/\r?\n/)
    .map((line) => `> ${line}`.trimEnd())
    .join('\n');

const readJson = (file) => JSON.parse(readFileSync(file, 'utf8'));

/** The packages that the program itself imports although an install does not bring them. */
export const missingPackages = ({ dependencies = {} }, sources) =>
  importedPackages(sources).filter((name) => !Object.hasOwn(dependencies, name));

/** The texts of the program, or of the page of its desk, which is built into one file with what it imports. */
function readSources(root, isPage) {
  const folder = join(root, 'src');
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.tsx?$/.test(file) && !file.endsWith('vite.config.ts'))
    .filter((file) => /^desk[\\/]page[\\/]/.test(file) === isPage)
    .map((file) => readFileSync(join(folder, file), 'utf8'));
}

/** Everything that is shipped of a checkout: the manifest, the packages, what the program uses of them and what it lacks. */
export function readShipped(root) {
  const manifest = readJson(join(root, 'package.json'));
  const lock = readJson(join(root, 'package-lock.json'));
  const missing = missingPackages(manifest, readSources(root, false));
  return { manifest, missing, ...componentsOf(lock, importedPackages(readSources(root, true))) };
}

/** The licence files of the built-in packages, by name. */
function readTexts(root, components) {
  const texts = {};
  for (const { name } of components.filter((c) => c.isBundled)) {
    const folder = join(root, 'node_modules', name);
    const file = readdirSync(folder).find((entry) => /^licen[cs]e(\.|$)/i.test(entry));
    if (file) texts[name] = readFileSync(join(folder, file), 'utf8');
  }
  return texts;
}

/** Writes `sbom.cdx.json` and `THIRD-PARTY.md` of a checkout into a folder. Throws where a licence is not allowed. */
export function writeShipped(root, folder) {
  const { manifest, components, uses } = readShipped(root);
  const trouble = licenceTrouble(components);
  if (trouble.length > 0) throw new Error(`Licences that may not be shipped: ${trouble.join('; ')}`);
  mkdirSync(folder, { recursive: true });
  const bill = `${JSON.stringify(billOf(manifest, { components, uses }), null, 2)}\n`;
  writeFileSync(join(folder, 'sbom.cdx.json'), bill);
  writeFileSync(join(folder, 'THIRD-PARTY.md'), licenceList(manifest, components, readTexts(root, components)));
  return components;
}
