/** The small pure parts: waits after failures, filters, secrets, the disguise for research. */
import { chmodSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it, onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import type { OutgoingReading } from '../../src/core/outgoing.ts';
import { backOffMs, CEILING_MS } from '../../src/outlets/back-off.ts';
import { DAY_ZERO, dayNumberOf, disguise, pseudonym } from '../../src/outlets/disguise.ts';
import { readFilter } from '../../src/outlets/filter.ts';
import { makeSecretFile, readSecret } from '../../src/outlets/secret.ts';
import { tempFolder } from '../store/temp-store.ts';
import { seedOr } from '../support/seed.ts';
import { addOutlet, memoryOutlet, workOffAll } from './driven.ts';
import { FIRST_TEST, madeStore } from './made-store.ts';

const SEED = seedOr(20260301);
const DAY_MS = 86_400_000;

describe('the wait after failures', () => {
  it(`doubles, stays between half and the whole of its step, and never passes the ceiling (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 2000 }), fc.double({ min: 0, max: 0.999, noNaN: true }), (n, chance) => {
        const full = Math.min(CEILING_MS, 1000 * 2 ** Math.min(n - 1, 30));
        const wait = backOffMs(n, chance);
        expect(wait).toBeGreaterThanOrEqual(Math.floor(full / 2));
        expect(wait).toBeLessThanOrEqual(full);
      }),
      { seed: SEED },
    );
  });
});

describe('a filter from the store', () => {
  it('is refused by name where it cannot be read', () => {
    expect(() => readFilter('{"kinds":["glucose"]}')).toThrow(expect.objectContaining({ code: 'OUTLET_INVALID' }));
    expect(readFilter('{"meters":["PA00042"]}')).toEqual({ meters: ['PA00042'] });
  });
});

describe('secrets', () => {
  it('come from the environment, or from the first line of a file of the owner only', () => {
    const file = join(tempFolder(), 'secret');
    writeFileSync(file, 'gulls and more gulls\nsecond line\n', { mode: 0o600 });
    expect(readSecret({ file })).toBe('gulls and more gulls');
    expect(readSecret({ env: 'HARBOUR' }, { HARBOUR: 'buoy' })).toBe('buoy');
    expect(() => readSecret({ env: 'HARBOUR' }, {})).toThrow(expect.objectContaining({ code: 'OUTLET_INVALID' }));
    expect(() => readSecret({ file: `${file}-not-there` })).toThrow(
      expect.objectContaining({ code: 'OUTLET_INVALID' }),
    );
    chmodSync(file, 0o644);
    if (process.platform !== 'win32')
      expect(() => readSecret({ file })).toThrow(expect.objectContaining({ hint: `Run "chmod 600 ${file}"` }));
  });

  it('are made once, long, and readable by the owner only', () => {
    const file = join(tempFolder(), 'key');
    makeSecretFile(file);
    const first = readFileSync(file, 'utf8');
    makeSecretFile(file);
    expect(readFileSync(file, 'utf8')).toBe(first);
    expect(first.trim()).toMatch(/^[A-Za-z0-9_-]{43}$/);
    if (process.platform !== 'win32') expect(statSync(file).mode & 0o777).toBe(0o600);
  });
});

describe('the disguise for research (45 CFR 164.514(b)(2), as read in the design facts, section 9)', () => {
  const key = 'a key of Port Alder';
  function deliveredInDisguise() {
    const made = madeStore(tempFolder());
    onTestFinished(() => made.store.close());
    const outlet = memoryOutlet(100);
    const no = addOutlet(made.store);
    return { ...made, outlet, work: () => workOffAll(made.store, no, outlet, {}, key) };
  }

  it('lets out no name, no id, no serial number, no date, no operator and no sentence of ours', async () => {
    const { add, store, work, outlet } = deliveredInDisguise();
    const ids = add(12, (n) => (n % 4 === 3 ? { kind: 'control' } : {}));
    await work();
    const all = JSON.stringify(outlet.taken);
    for (const told of [...ids, 'ALDER-0', 'Nobody', 'PA00042', 'D1', '4471903', 'rosa', '2026-', 'downloads'])
      expect(all.includes(`"${told}`) || all.includes(`${told} `), told).toBe(false);
    const moments = [...store.readings.pages({})].flat().flatMap((r) => [r.placement?.takenAt, r.downloadedAt]);
    for (const moment of moments) expect(all).not.toContain(String(moment));
    expect(outlet.taken.filter((d) => d.reading.clock !== undefined || d.reading.runNumber !== undefined)).toEqual([]);
  });

  it('keeps what belongs together together, and the days between the tests of a person', async () => {
    const { add, work, outlet } = deliveredInDisguise();
    add(15);
    await work();
    const byPerson = new Map<string, number[]>();
    for (const { reading } of outlet.taken) {
      const id = reading.patient?.id ?? '';
      byPerson.set(id, [...(byPerson.get(id) ?? []), (reading.placement?.takenAt ?? 0) / DAY_MS - DAY_ZERO]);
    }
    expect([...byPerson.values()]).toEqual(Array.from({ length: 5 }, () => [0, 5, 10]));
  });

  it('counts from the same day for ever, also where an older test turns up later', async () => {
    const { add, change, store, people, work, outlet } = deliveredInDisguise();
    const person = people[0] ?? 0;
    const [older] = add(2, (n) => ({ patientNo: person, status: n === 0 ? 'held' : 'settled' }));
    if (!older) throw new Error('no reading');
    await work();
    change(older, { status: 'settled' });
    await work();
    store.outlets.rewind(1, 0);
    await work();
    const days = outlet.taken.map((d) => (d.reading.placement?.takenAt ?? 0) / DAY_MS - DAY_ZERO);
    expect(days).toEqual([0, -1, 0, -1]);
  });

  it('pools ages over 89 as 90, whenever the test was made', () => {
    const reading = (birthYear: number, yearsOn: number): OutgoingReading => {
      const at = instant(FIRST_TEST + yearsOn * 365.25 * DAY_MS);
      return {
        ...({
          id: 'D1-1',
          version: 1,
          status: 'settled',
          holds: [],
          kind: 'patient',
          flags: [],
        } as unknown as OutgoingReading),
        meter: { id: 'PA00042', model: 'GM-10' },
        patient: { id: 'ALDER-001', birthYear },
        values: [],
        zone: 'Europe/Lisbon',
        placement: { takenAt: at, basis: 'anchored', reason: '', flags: [] },
        downloadedAt: at,
      };
    };
    const dayZero = dayNumberOf(FIRST_TEST, 'Europe/Lisbon');
    const ageOf = (birthYear: number, yearsOn: number): number => {
      const out = disguise(reading(birthYear, yearsOn), { key, dayZero });
      return new Date(out.placement?.takenAt ?? 0).getUTCFullYear() - (out.patient?.birthYear ?? 0);
    };
    expect([1956, 1937, 1936, 1920].map((year) => ageOf(year, 0))).toEqual([70, 89, 90, 90]);
    expect([0, 3, 9].map((on) => ageOf(1938, on))).toEqual([88, 90, 90]);
  });

  it('gives another pseudonym under another key and for another kind of thing', () => {
    const made = [pseudonym('a', 'person', '7'), pseudonym('b', 'person', '7'), pseudonym('a', 'meter', '7')];
    expect(new Set(made).size).toBe(3);
    expect(pseudonym('a', 'person', '7')).toBe(made[0]);
  });
});
