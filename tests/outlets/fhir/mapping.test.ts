/** A reading as FHIR resources: what stands where, and that every resource that leaves is valid R4. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { OutgoingReading } from '../../../src/core/outgoing.ts';
import { inBundle, transactionOf, withoutRepeats } from '../../../src/outlets/fhir/bundle.ts';
import { fhirJson } from '../../../src/outlets/fhir/fhir-json.ts';
import { deliveryName, patientKey, searchFor, systemsOf, uuidOf } from '../../../src/outlets/fhir/keys.ts';
import { tellDelivery } from '../../../src/outlets/fhir/tell.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { seedOr } from '../../support/seed.ts';
import { anyDelivery, at, first, many, NOW, reading, without } from './readings.ts';
import { asStored, problemsOf } from './validators.ts';

const SITE = 'Port Alder harbour clinic';
const systems = systemsOf(SITE, undefined, undefined);
const seed = seedOr(20260302);

/** Any part of a resource, for looking into it. */
type Part = Record<string, unknown>;

/** The resources of a delivery as a receiver reads them, in the order in which they are told. */
function told(delivery: Delivery): { lines: string[]; resources: Part[] } {
  const speaker = { site: SITE, systems, refer: (key: Parameters<typeof uuidOf>[0]) => `${key.type}/${uuidOf(key)}` };
  const lines = tellDelivery(delivery, speaker, NOW).map(({ make }) => fhirJson(make()));
  return { lines, resources: lines.map((line) => JSON.parse(line) as Part) };
}

/** The Observations of values, without the one of the clock. */
const values = (of: OutgoingReading | Delivery): Part[] =>
  told('seq' in of ? of : first(of)).resources.filter(
    (r) => r['resourceType'] === 'Observation' && !JSON.stringify(r['code']).includes('67975'),
  );
const one = (of: OutgoingReading | Delivery): Part => values(of)[0] ?? {};
const only = (of: OutgoingReading | Delivery, type: string): Part[] =>
  told('seq' in of ? of : first(of)).resources.filter((r) => r['resourceType'] === type);

describe('what the validators see', () => {
  it('they refuse an Observation without a status, with a wrong status, with an unknown member and with two meanings', () => {
    const good = one(reading());
    expect(problemsOf(good)).toEqual([]);
    const { status: _, ...noStatus } = good;
    for (const wrong of [
      noStatus,
      { ...good, status: 'done' },
      { ...good, lot: '7001234' },
      { ...good, effectiveDateTime: '2026-02-27T08:15' },
      { ...good, dataAbsentReason: { text: 'none' } },
      {
        ...good,
        interpretation: [
          { coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', code: 'XX' }] },
        ],
      },
      { ...good, subject: { reference: 'Practitioner/1' } },
    ])
      expect(problemsOf(wrong)).not.toEqual([]);
  });
});

describe('one reading', () => {
  it('every resource of a plain reading is valid R4', () => {
    for (const resource of told(first()).resources) expect(problemsOf(resource)).toEqual([]);
  });

  it(`every resource of any delivery is valid R4, alone and in a transaction (seed ${seed})`, () => {
    let resources = 0;
    fc.assert(
      fc.property(anyDelivery, (delivery) => {
        for (const resource of told(delivery).resources) {
          resources += 1;
          expect(problemsOf(resource)).toEqual([]);
        }
        const bundle = JSON.parse(fhirJson(transactionOf([delivery], SITE, systems, NOW)));
        expect(problemsOf(asStored(bundle))).toEqual([]);
      }),
      { seed, numRuns: 150 },
    );
    console.log(`${resources} resources validated`);
    expect(resources).toBeGreaterThan(600);
  }, 120_000);

  it('one Observation for each value, with LOINC code, local code and UCUM unit', () => {
    const [inr, pt] = values(reading());
    expect(inr).toMatchObject({
      identifier: [{ system: systems.reading, value: 'D17-3/1' }],
      status: 'final',
      code: { coding: [{ system: 'http://loinc.org', code: '46418-0' }, { code: 'INR' }], text: 'INR' },
      valueQuantity: { value: 2.5, system: 'http://unitsofmeasure.org', code: '{INR}' },
    });
    expect(pt).toMatchObject({
      identifier: [{ system: systems.reading, value: 'D17-3/2' }],
      code: { coding: [{ system: 'http://loinc.org', code: '46417-2' }, { code: 'PT' }] },
      valueQuantity: { value: 28.9, code: 's' },
    });
  });

  it('the digits are those that the meter showed', () => {
    expect(told(first()).lines.join()).toContain('"valueQuantity":{"value":2.50,');
  });

  it('a value off the scale has its comparator and its letter besides the letter of its standing', () => {
    const low = one(reading({ values: [{ analyte: 'INR', value: '<0.8', unit: '{INR}' }], standing: 'critical-low' }));
    expect(low).toMatchObject({ valueQuantity: { value: 0.8, comparator: '<' } });
    expect(letters(low)).toEqual(['LL', '<']);
  });

  it.each([
    ['critical-low', ['LL']],
    ['below', ['L']],
    ['in', ['N']],
    ['above', ['H']],
    ['critical-high', ['HH']],
    ['no-target', []],
  ] as const)('a standing of %s is told as %j, of the INR alone', (standing, expected) => {
    const [inr, pt] = values(reading({ standing }));
    expect(letters(inr)).toEqual(expected);
    expect(letters(pt)).toEqual([]);
  });

  it('the target is the reference range of the INR alone', () => {
    const [inr, pt] = values(reading());
    expect(inr).toMatchObject({ referenceRange: [{ low: { value: 2 }, high: { value: 3 } }] });
    expect(pt).not.toHaveProperty('referenceRange');
  });

  it('a value that is no number goes as text, an empty one with a reason', () => {
    expect(one(reading({ values: [{ analyte: 'INR', value: 'HI', unit: '' }] }))).toMatchObject({ valueString: 'HI' });
    const empty = one(reading({ values: [{ analyte: 'INR', value: '', unit: '' }] }));
    expect(empty).toMatchObject({ dataAbsentReason: { coding: [{ code: 'unknown' }] } });
  });

  it('a unit that is not known to the catalogue gets neither a UCUM nor a LOINC code', () => {
    const odd = one(reading({ values: [{ analyte: 'GLU', value: '101', unit: 'mg%' }] }));
    expect(odd['valueQuantity']).toEqual({ value: 101, unit: 'mg%' });
    expect(JSON.stringify(odd['code'])).not.toContain('loinc');
  });

  it('glucose has the code of its unit', () => {
    const code = (unit: string) =>
      JSON.stringify(one(reading({ values: [{ analyte: 'GLU', value: '5.6', unit }] }))['code']);
    expect(code('mmol/L')).toContain('14743-9');
    expect(code('mg/dL')).toContain('41653-7');
  });

  it('the person has the clinic’s id; name and year of birth only where they are given', () => {
    expect(only(reading(), 'Patient')).toMatchObject([
      {
        identifier: [{ system: systems.patient, value: 'PA-2041' }],
        name: [{ text: 'Ines Quell' }],
        birthDate: '1951',
      },
    ]);
    const [bare] = only(reading({ patient: { id: 'PA-2041' } }), 'Patient');
    expect(Object.keys(bare ?? {})).toEqual(['resourceType', 'identifier']);
  });

  it('meter, strip lot and gateway are Devices; lot and expiry stand in one of their own', () => {
    expect(only(reading(), 'Device')).toMatchObject([
      { deviceName: [{ name: SITE }] },
      { serialNumber: 'PA-H017', modelNumber: 'GM-10', version: [{ value: '1.4' }] },
      { lotNumber: '7001234', expirationDate: '2026-08' },
    ]);
  });

  it('everything that is referred to is told before it is referred to', () => {
    const before = new Set<string>();
    for (const { key, make } of tellDelivery(first(), { site: SITE, systems, refer: inBundle }, NOW)) {
      for (const [, url] of fhirJson(make()).matchAll(/"reference":"([^"]*)"/g)) expect(before).toContain(url);
      before.add(inBundle(key));
    }
  });

  it('Provenance names the gateway, the download and the Observations', () => {
    const observations = tellDelivery(first(), { site: SITE, systems, refer: inBundle }, NOW).filter(
      ({ key, isShared }) => key.type === 'Observation' && !isShared,
    );
    expect(only(reading(), 'Provenance')).toMatchObject([
      {
        meta: { tag: [{ system: systems.provenance, code: 'D17-3/v1' }] },
        target: observations.map(({ key }) => ({ reference: `Observation/${uuidOf(key)}` })),
        occurredDateTime: '2026-03-02T17:59:10.000Z',
        recorded: '2026-03-02T18:00:00.000Z',
        entity: [{ role: 'source', what: { identifier: { value: 'D17' } } }],
      },
    ]);
  });
});

const letters = (observation: Part | undefined): string[] =>
  ((observation?.['interpretation'] ?? []) as { coding: { code: string }[] }[]).flatMap(({ coding }) =>
    coding.map(({ code }) => code),
  );

describe('time', () => {
  const span = {
    takenAt: at('2026-02-27T08:15:30.400Z'),
    earliest: at('2026-02-27T08:00:00.900Z'),
    latest: at('2026-02-27T08:20:00.100Z'),
  };
  const placed = (parts: object) =>
    one(reading({ placement: { basis: 'anchored', reason: 'A reason.', flags: [], ...parts } }));

  it('a time known to ten minutes is a point, in local time with its offset', () => {
    const summer = reading({
      zone: 'America/St_Johns',
      placement: {
        basis: 'anchored',
        reason: '',
        flags: [],
        takenAt: at('2026-07-01T12:00:00Z'),
        earliest: at('2026-07-01T11:55:00Z'),
        latest: at('2026-07-01T12:05:00Z'),
      },
    });
    expect(one(summer)).toMatchObject({ effectiveDateTime: '2026-07-01T09:30:00-02:30' });
    expect(one(summer)).not.toHaveProperty('note');
  });

  it('wider bounds are a span, rounded outwards, and the reason stands in a note', () => {
    expect(placed(span)).toMatchObject({
      effectivePeriod: { start: '2026-02-27T08:00:00+00:00', end: '2026-02-27T08:20:01+00:00' },
      note: [{ text: 'A reason.' }],
    });
  });

  it('a bounded time is a span however narrow it is, and may be open at one end', () => {
    const narrow = { basis: 'bounded', takenAt: span.takenAt, latest: span.takenAt };
    const found = placed(narrow);
    expect(found['effectivePeriod']).toMatchObject({ end: '2026-02-27T08:15:31+00:00' });
    expect(found['effectivePeriod']).not.toHaveProperty('start');
    expect(found).not.toHaveProperty('effectiveDateTime');
  });

  it('a displayed time is the meter’s own word, and a note says so', () => {
    expect(placed({ basis: 'displayed', takenAt: span.takenAt, latest: span.latest })).toMatchObject({
      effectiveDateTime: '2026-02-27T08:15:30+00:00',
      note: [{ text: 'A reason.' }],
    });
  });

  it('no time is no time: the reason for its absence stands in its place', () => {
    const none = one(without(reading({ meterTime: '' }), 'placement'));
    expect(none).not.toHaveProperty('effectiveDateTime');
    expect(none['_effectiveDateTime']).toEqual({
      extension: [{ url: 'http://hl7.org/fhir/StructureDefinition/data-absent-reason', valueCode: 'unknown' }],
    });
  });

  it('the meter’s own stamp stays beside ours, exactly as given', () => {
    expect(one(reading())['_effectiveDateTime']).toEqual({
      extension: [{ url: 'http://hl7.org/fhir/StructureDefinition/originalText', valueString: '2026-02-27T08:13' }],
    });
    expect(JSON.stringify(placed(span)['effectivePeriod'])).toContain('2026-02-27T08:13');
  });

  // HL7 Personal Health Device guide, profile PhdCoincidentTimeStampObservation: code 67975, status final, subject the
  // meter, device the gateway, effectiveDateTime the gateway's clock, valueDateTime the meter's; no derivedFrom.
  it('the meter’s clock goes as coincident time stamp, from which the difference of the clocks can be had back', () => {
    const stamp = only(reading(), 'Observation').find((r) => JSON.stringify(r['code']).includes('67975')) ?? {};
    expect(stamp).toMatchObject({
      status: 'final',
      effectiveDateTime: '2026-03-02T17:59:00+00:00',
      valueDateTime: '2026-03-02T17:56:30+00:00',
    });
    const off = Date.parse(String(stamp['valueDateTime'])) - Date.parse(String(stamp['effectiveDateTime']));
    expect(off / 1000).toBe(reading().clock?.meterOffS);
    expect(stamp).not.toHaveProperty('derivedFrom');
    expect(one(reading())['derivedFrom']).toEqual([{ reference: expect.stringMatching(/^Observation\//) }]);
  });

  it('a result made before the clock was changed does not refer to what the clock showed afterwards', () => {
    const apart = reading({
      placement: { basis: 'bounded', reason: 'r', flags: [], earliest: span.earliest, latest: span.latest },
    });
    expect(one(apart)).not.toHaveProperty('derivedFrom');
    expect(only(apart, 'Observation')).toHaveLength(2);
  });
});

describe('versions', () => {
  const again = (parts: Partial<Delivery>, of = reading({ version: 2 })): Delivery => ({
    seq: 9,
    reading: of,
    isWithdrawn: false,
    ...parts,
  });
  const before = { version: 1, patientId: 'PA-2041' };
  it.each([
    ['a first settled reading is final', first(), 'final'],
    ['a provisional reading is preliminary', first(reading({ status: 'provisional' })), 'preliminary'],
    ['a change of something else is amended', again({ before }), 'amended'],
    ['what was preliminary before becomes final', again({ before: { ...before, status: 'provisional' } }), 'final'],
    ['a change of the person is corrected', again({ before: { version: 1, patientId: 'PA-7' } }), 'corrected'],
    ['a person found later is corrected', again({ before: { version: 1 } }), 'corrected'],
    ['a withdrawn reading is entered in error', again({ before, isWithdrawn: true }), 'entered-in-error'],
  ] as const)('%s', (_, delivery, status) => {
    for (const observation of values(delivery)) {
      expect(observation).toMatchObject({ status, identifier: [{ system: systems.reading }] });
      expect(problemsOf(observation)).toEqual([]);
    }
    expect(values(delivery)).toHaveLength(2);
  });

  it('a correction keeps its identifier and names the person of now', () => {
    const moved = again({ before: { version: 1, patientId: 'PA-7' } });
    expect(one(moved)['identifier']).toEqual(one(reading())['identifier']);
    expect(only(moved, 'Patient')).toMatchObject([{ identifier: [{ value: 'PA-2041' }] }]);
  });

  it('what is withdrawn is withdrawn from the person of whom it was told, whose name is not made up', () => {
    const gone = again({ before: { version: 1, patientId: 'PA-7' }, isWithdrawn: true });
    const [person] = only(gone, 'Patient');
    expect(person).toEqual({ resourceType: 'Patient', identifier: [{ system: systems.patient, value: 'PA-7' }] });
  });

  it('the first is created if it is not there; a correction takes the place of what is there', () => {
    const requests = (delivery: Delivery) =>
      (JSON.parse(fhirJson(transactionOf([delivery], SITE, systems, NOW))) as { entry: { request: Part }[] }).entry.map(
        (e) => e.request,
      );
    const search = `identifier=${encodeURIComponent(`${systems.reading}|D17-3/1`)}`;
    expect(requests(first())).toContainEqual({ method: 'POST', url: 'Observation', ifNoneExist: search });
    expect(requests(again({ before }))).toContainEqual({ method: 'PUT', url: `Observation?${search}` });
    for (const { url, ifNoneExist } of requests(again({ before })).filter((r) => r['method'] === 'POST'))
      expect([url, ifNoneExist]).toEqual([expect.not.stringContaining('Observation?'), expect.any(String)]);
  });

  it('two versions of one reading go in two transactions, in their order', () => {
    const twice = [
      ...many(2),
      again({ before, reading: reading({ id: many(1)[0]?.reading.id ?? reading().id, version: 2 }) }),
    ];
    expect(withoutRepeats(twice).map((piece) => piece.map(deliveryName))).toEqual([
      ['D17-1/v1', 'D17-2/v1'],
      ['D17-1/v2'],
    ]);
  });

  it('a transaction tells meter, strips and person once for many readings', () => {
    const bundle = JSON.parse(fhirJson(transactionOf(many(20), SITE, systems, NOW)));
    expect(problemsOf(asStored(bundle))).toEqual([]);
    const types = (bundle as { entry: { resource: Part }[] }).entry.map((e) => String(e.resource['resourceType']));
    const count = (type: string) => types.filter((t) => t === type).length;
    expect([count('Device'), count('Patient'), count('Observation'), count('Provenance')]).toEqual([3, 1, 41, 20]);
  });
});

describe('other kinds of test', () => {
  it('a control test is about the meter, of nobody, and says its material', () => {
    const control = without(
      reading({ kind: 'control', control: { lot: 'C-88', level: '2', kind: 'liquid' } }),
      'patient',
      'target',
      'standing',
    );
    const meter = only(control, 'Device')[1];
    expect(meter).toMatchObject({ serialNumber: 'PA-H017' });
    expect(one(control)).toMatchObject({
      subject: { reference: expect.stringMatching(/^Device\//) },
      category: [{ coding: [{ code: 'laboratory' }] }, { text: 'Control test' }],
      note: [{ text: "Control test, no patient's result: liquid control, lot C-88, level 2." }],
    });
    expect(only(control, 'Patient')).toEqual([]);
  });

  it('an error test has no value and says why', () => {
    const failed = one(without(reading({ kind: 'error', values: [], errorCode: 'E7' }), 'standing'));
    expect(failed).toMatchObject({
      code: { text: 'Error test' },
      dataAbsentReason: { coding: [{ code: 'error' }] },
      note: [{ text: 'The test gave no result: error E7.' }],
    });
    expect(problemsOf(failed)).toEqual([]);
  });

  it('a reading of nobody has no subject', () => {
    expect(one(without(reading(), 'patient'))).not.toHaveProperty('subject');
  });
});

describe('names of things', () => {
  it('a site may bring its own systems', () => {
    const own = systemsOf(SITE, 'https://clinic.example/id/', 'urn:oid:2.999.7');
    expect([own.reading, own.patient]).toEqual(['https://clinic.example/id/reading', 'urn:oid:2.999.7']);
  });

  it('what has a meaning in a search is escaped in it', () => {
    expect(decodeURIComponent(searchFor(patientKey(systems, 'a|b,c$d\\e')))).toBe(
      `identifier=${systems.patient}|a\\|b\\,c\\$d\\\\e`,
    );
  });

  it('the same key gives the same UUID, another key another one', () => {
    const a = uuidOf(patientKey(systems, 'PA-1'));
    expect(a).toBe(uuidOf(patientKey(systemsOf(SITE, undefined, undefined), 'PA-1')));
    expect(a).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    expect(a).not.toBe(uuidOf(patientKey(systems, 'PA-2')));
  });
});
