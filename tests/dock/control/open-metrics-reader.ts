/**
 * A strict little reader of OpenMetrics text, written by us from the specification alone and used only in tests:
 * OpenMetrics 1.0, "Text format" with its ABNF, and the rules of "Counter", "Info", "Units"
 * (https://prometheus.io/docs/specs/om/open_metrics_spec/). Stricter where the text allows a choice: every family
 * says TYPE and HELP before its samples, and samples carry neither timestamps nor exemplars.
 */

export interface Sample {
  readonly labels: ReadonlyMap<string, string>;
  readonly value: number;
}
export interface Family {
  readonly type: string;
  readonly unit: string | undefined;
  readonly help: string;
  readonly samples: readonly Sample[];
}

const TYPES = ['counter', 'gauge', 'histogram', 'gaugehistogram', 'stateset', 'info', 'summary', 'unknown'];
const NAME = '[a-zA-Z_:][a-zA-Z0-9_:]*';
const ESCAPED = '(?:[^\\\\"\\n]|\\\\["n\\\\])*';
const LABEL = `([a-zA-Z_][a-zA-Z0-9_]*)="(${ESCAPED})"`;
const SAMPLE = new RegExp(`^(${NAME})(?:\\{((?:${LABEL})(?:,${LABEL})*)?\\})? (-?\\d+(?:\\.\\d+)?(?:[eE][+-]?\\d+)?)$`);

/** Reads a whole exposition. Throws with the line on anything that the specification does not allow. */
export function readOpenMetrics(text: string): Map<string, Family> {
  const lines = text.split('\n');
  if (lines.pop() !== '') throw new Error('the last line has no line feed');
  if (lines.pop() !== '# EOF') throw new Error('the last line is not # EOF');
  const families = new Map<string, { type?: string; unit?: string; help?: string; samples: Sample[] }>();
  let current: string | undefined;
  for (const [i, line] of lines.entries()) {
    const refuse = (why: string): never => {
      throw new Error(`line ${i + 1}: ${why}: ${line}`);
    };
    const described = new RegExp(`^# (TYPE|UNIT|HELP) (${NAME}) (.+)$`).exec(line);
    if (described) {
      const [, what = '', name = '', rest = ''] = described;
      // A family's lines stand together: "MetricFamilies MUST NOT be interleaved".
      if (name !== current && families.has(name)) refuse('a family that was left');
      current = name;
      const family = families.get(name) ?? { samples: [] };
      families.set(name, family);
      if (family.samples.length > 0) refuse('a description after samples');
      const key = what.toLowerCase() as 'type' | 'unit' | 'help';
      if (family[key] !== undefined) refuse('said twice');
      if (key === 'type' && !TYPES.includes(rest)) refuse('no type');
      if (key === 'unit' && !name.endsWith(`_${rest}`)) refuse('a name that does not end with its unit');
      if (key === 'help' && !new RegExp(`^${ESCAPED}$`).test(rest)) refuse('wrong escapes');
      family[key] = key === 'help' ? unescaped(rest) : rest;
      continue;
    }
    const [, name = '', inBraces = '', , , , , number = ''] =
      SAMPLE.exec(line) ?? refuse('neither a description nor a sample');
    const family = families.get(current ?? '') ?? refuse('a sample without a family');
    const suffix = family.type === 'counter' ? '_total' : family.type === 'info' ? '_info' : '';
    if (name !== `${current}${suffix}`) refuse(`a sample that is not ${current}${suffix}`);
    const pairs = [...inBraces.matchAll(new RegExp(LABEL, 'g'))].map(
      ([, label = '', value = '']) => [label, unescaped(value)] as const,
    );
    const labels = new Map(pairs);
    if (labels.size !== pairs.length) refuse('a label twice');
    const isSame = (other: Sample): boolean =>
      other.labels.size === labels.size && [...labels].every(([label, value]) => other.labels.get(label) === value);
    if (family.samples.some(isSame)) refuse('the same labels twice');
    const value = Number(number);
    if (family.type === 'counter' && value < 0) refuse('a counter below nothing');
    if (family.type === 'info' && value !== 1) refuse('an info that is not 1');
    family.samples.push({ labels, value });
  }
  return new Map(
    [...families].map(([name, { type, unit, help, samples }]) => {
      if (type === undefined || help === undefined) throw new Error(`${name} has no TYPE or no HELP`);
      return [name, { type, unit, help, samples }];
    }),
  );
}

const unescaped = (text: string): string =>
  text.replace(/\\(["n\\])/g, (_, what: string) => (what === 'n' ? '\n' : what));
