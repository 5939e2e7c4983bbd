/**
 * Field paths of meter profiles, such as `R.4`, `H.5.2` or `M.strip.2`, made ready once for each profile. Knows where
 * a fact stands; not what it means.
 */
import type { MeterProfile } from '../profile.ts';
import type { RecordType, RecordView } from './record-view.ts';

/** Field n of a type of record, or one component of it; for M records of the one whose third field begins with `name`. */
export interface FieldPath {
  readonly type: RecordType;
  readonly field: number;
  readonly component?: number;
  readonly name?: string;
}

/** The paths of a profile, by fact, and its names. */
export type ProfilePaths = {
  readonly [K in Exclude<keyof MeterProfile['fields'], 'control'>]: readonly FieldPath[];
} & {
  readonly control: { readonly path: FieldPath; readonly text: string };
  readonly asked: AskedFields;
  readonly analytes: ReadonlyMap<string, string>;
  readonly units: ReadonlyMap<string, string>;
};

/** Which components of which field some path asks for: by type (for M records by type and name) and field number; 0 = all. */
export type AskedFields = ReadonlyMap<string, readonly (readonly number[] | undefined)[]>;

function parsePath(text: string): FieldPath {
  const [type = '', second = '', third] = text.split('.');
  if (type === 'M') return { type: 'M', name: second, field: 3, component: Number(third) };
  const path = { type: type as RecordType, field: Number(second) };
  return third === undefined ? path : { ...path, component: Number(third) };
}

const askedKey = (type: string, name: string | undefined): string => (name === undefined ? type : `M.${name}`);

function askedBy(paths: readonly FieldPath[]): AskedFields {
  const asked = new Map<string, number[][]>();
  for (const { type, field, component = 0, name } of paths) {
    const key = askedKey(type, name);
    const fields = asked.get(key) ?? [];
    const components = fields[field] ?? (name === undefined ? [] : [1]);
    fields[field] = [...components, component];
    asked.set(key, fields);
  }
  // The order names the test that its results name again: nothing is lost without it.
  const order = asked.get('O') ?? [];
  order[5] = [0];
  asked.set('O', order);
  return asked;
}

/** True where everything that field n of a record holds is asked for by some path. */
export function isAsked(record: RecordView, n: number, asked: AskedFields): boolean {
  const components = asked.get(record.type === 'M' ? `M.${record.component(3, 1)}` : record.type)?.[n];
  if (components === undefined) return false;
  return components.includes(0) || record.hasOnly(n, components);
}

const known = new WeakMap<MeterProfile, ProfilePaths>();

/** The paths of a checked profile. */
export function pathsOf(profile: MeterProfile): ProfilePaths {
  const made = known.get(profile);
  if (made) return made;
  const { control, ...facts } = profile.fields;
  const equals = control.indexOf('=');
  const controlPath = parsePath(control.slice(0, equals));
  const paths = Object.fromEntries(
    Object.entries(facts).map(([fact, texts]) => [fact, texts.map(parsePath)]),
  ) as Record<keyof typeof facts, FieldPath[]>;
  const all: ProfilePaths = {
    ...paths,
    control: { path: controlPath, text: control.slice(equals + 1) },
    asked: askedBy([controlPath, ...Object.values(paths).flat()]),
    analytes: new Map(Object.entries(profile.analytes)),
    units: new Map(Object.entries(profile.units)),
  };
  known.set(profile, all);
  return all;
}

/** What stands at a path in one record of the path's type; for M records, of the path's name. */
export function textAt(record: RecordView, path: FieldPath): string {
  if (path.name !== undefined && record.component(3, 1) !== path.name) return '';
  return path.component === undefined ? record.field(path.field) : record.component(path.field, path.component);
}
