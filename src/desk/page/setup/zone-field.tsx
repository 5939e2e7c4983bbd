/** Choosing the time zone, with the time it is there: whoever looks at a clock sees whether it is the right one. */
import type { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import { makeFormat } from '../format.ts';
import { useHere } from '../here.ts';
import { zonesToChoose, zoneText } from './zones.ts';

export function ZoneField({
  zone,
  onChange,
}: {
  readonly zone: string;
  readonly onChange: (zone: string) => void;
}): JSX.Element {
  const { words, language } = useHere();
  const { firstRun: w } = words.setup;
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const zones = useMemo(() => zonesToChoose(own, Intl.supportedValuesOf('timeZone')), [own]);
  return (
    <label class="field">
      <span>{w.zone}</span>
      <select value={zone} onChange={(event) => onChange(event.currentTarget.value)}>
        {zones.map((z) => (
          <option key={z} value={z}>
            {z === own ? `${zoneText(z)} (${w.thisPc})` : zoneText(z)}
          </option>
        ))}
      </select>
      <small>{w.zoneHint(makeFormat(language, zone, words).time(Date.now()))}</small>
    </label>
  );
}
