/** Readings of invented people of Port Alder for the tests of the FHIR and HL7 outlets, and chance-made ones. */
import fc from 'fast-check';
import { type Instant, instant } from '../../../src/core/instant.ts';
import type { OutgoingReading } from '../../../src/core/outgoing.ts';
import type { DownloadId, ReadingId } from '../../../src/core/reading.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';

export const at = (text: string): Instant => instant(Date.parse(text));
export const NOW = at('2026-03-02T18:00:00.000Z');

/** A weekly INR of a home tester, with a good time. Every part can be given otherwise. */
export function reading(parts: Partial<OutgoingReading> = {}): OutgoingReading {
  return {
    id: 'D17-3' as ReadingId,
    version: 1,
    status: 'settled',
    holds: [],
    kind: 'patient',
    meter: { id: 'PA-H017', model: 'GM-10', firmware: '1.4' },
    patient: { id: 'PA-2041', name: 'Ines Quell', birthYear: 1951 },
    personBasis: 'lent',
    values: [
      { analyte: 'INR', value: '2.50', unit: '{INR}' },
      { analyte: 'PT', value: '28.9', unit: 's' },
    ],
    target: { low: '2.0', high: '3.0' },
    standing: 'in',
    placement: {
      takenAt: at('2026-02-27T08:15:30.000Z'),
      earliest: at('2026-02-27T08:15:00.000Z'),
      latest: at('2026-02-27T08:16:10.000Z'),
      basis: 'anchored',
      reason: 'The clock of the meter was compared on 2 March and had run well since.',
      flags: [],
    },
    zone: 'Europe/Lisbon',
    meterTime: '2026-02-27T08:13',
    clock: { gatewayAt: at('2026-03-02T17:59:00.000Z'), meterOffS: -150 },
    lot: '7001234',
    lotExpiry: '2026-08',
    operator: 'N-12',
    flags: [],
    slot: 3,
    firstDownload: 'D17' as DownloadId,
    downloadedAt: at('2026-03-02T17:59:10.000Z'),
    ...parts,
  };
}

/** A reading that lacks some of its parts. */
export function without(from: OutgoingReading, ...names: readonly (keyof OutgoingReading)[]): OutgoingReading {
  const rest: Partial<Record<keyof OutgoingReading, unknown>> = { ...from };
  for (const name of names) delete rest[name];
  return rest as OutgoingReading;
}

/** A first delivery of a reading. */
export const first = (of: OutgoingReading = reading()): Delivery => ({ seq: 1, reading: of, isWithdrawn: false });

/** Twenty readings of one home tester, each with its own id. */
export const many = (count: number): Delivery[] =>
  Array.from({ length: count }, (_, i) => ({
    seq: i + 1,
    reading: reading({ id: `D17-${i + 1}` as ReadingId, slot: i + 1 }),
    isWithdrawn: false,
  }));

const text = fc.oneof(
  fc.constantFrom(
    '7001234',
    'A|B^C~D\\E&F',
    'Zoë Ñandú',
    '"quoted" <b>',
    '\u4e2d\u6587',
    '= 1+1',
    'a\r\nb\tc',
    '\u001c\u000b',
    ' ',
  ),
  fc.string({ maxLength: 12 }),
);
const some = <T>(of: fc.Arbitrary<T>) => fc.option(of, { nil: undefined });
const moment = fc
  .integer({ min: Date.parse('1999-12-31T23:00:00Z'), max: Date.parse('2035-01-01T00:00:00Z') })
  .map(instant);

/** Only the keys whose value is there. */
const there = <T extends object>(of: T) =>
  Object.fromEntries(Object.entries(of).filter(([, v]) => v !== undefined)) as T;

const placement = fc
  .record({
    takenAt: some(moment),
    earliest: some(moment),
    width: fc.integer({ min: 0, max: 90_000_000 }),
    hasLatest: fc.boolean(),
    basis: fc.constantFrom('interpolated', 'anchored', 'bounded', 'displayed'),
    reason: text,
    flags: fc.constant([]),
  })
  .map(({ width, hasLatest, takenAt, earliest, basis, reason, flags }) =>
    there({
      takenAt,
      earliest,
      latest: hasLatest ? instant((earliest ?? takenAt ?? 0) + width) : undefined,
      basis,
      reason,
      flags,
    }),
  );

const value = fc.record({
  analyte: fc.oneof(fc.constantFrom('INR', 'PT', 'APTT', 'GLU', 'KET', 'HBA1C', 'HGB', 'CHOL', 'LAC', 'CRP'), text),
  value: fc.oneof(
    fc.constantFrom('2.5', '2.50', '<0.8', '>8.0', '0.0', '007', '-1.5', 'HI', '', '1e5', '.5', '12,5'),
    fc
      .tuple(fc.constantFrom('', '<', '>'), fc.integer({ min: 0, max: 9999 }))
      .map(([b, n]) => `${b}${(n / 100).toFixed(2)}`),
  ),
  unit: fc.oneof(fc.constantFrom('{INR}', '', 's', 'mmol/L', 'mg/dL', '%', 'mmol/mol', 'g/dL', 'mg/L', 'sec'), text),
});

const zone = fc.constantFrom('Europe/Lisbon', 'Asia/Kathmandu', 'America/St_Johns', 'Pacific/Apia', 'UTC');

/** Any reading at all, with nasty text wherever text can be. */
const anyReading: fc.Arbitrary<OutgoingReading> = fc
  .record({
    id: fc.tuple(fc.nat(999), fc.nat(300)).map(([d, n]) => `D${d + 1}-${n + 1}` as ReadingId),
    version: fc.integer({ min: 1, max: 40 }),
    status: fc.constantFrom('settled', 'provisional'),
    holds: fc.constant([]),
    kind: fc.constantFrom('patient', 'patient', 'control', 'error'),
    meter: fc.record({ id: text, model: text, firmware: some(text) }).map(there),
    patient: some(
      fc.record({ id: text, name: some(text), birthYear: some(fc.integer({ min: 1900, max: 2026 })) }).map(there),
    ),
    values: fc.array(value, { minLength: 1, maxLength: 4 }),
    errorCode: some(text),
    target: some(fc.constantFrom({ low: '2.0', high: '3.0' }, { low: '2,0', high: '3' })),
    standing: some(fc.constantFrom('critical-low', 'below', 'in', 'above', 'critical-high', 'no-target')),
    placement: some(placement),
    zone,
    meterTime: fc.constantFrom('', '2000-01-01T00:10', '2026-02-27T08:13:05', '2026-02-27', 'no time'),
    clock: some(fc.record({ gatewayAt: moment, meterOffS: fc.integer({ min: -900_000_000, max: 90_000_000 }) })),
    lot: some(text),
    lotExpiry: some(fc.constantFrom('2026-08', '2026-08-31')),
    operator: some(text),
    flags: fc.array(fc.constantFrom('lo', 'hi', 'tmp', 'time-repeated-hour'), { maxLength: 3 }),
    firstDownload: fc.constant('D17' as DownloadId),
    downloadedAt: moment,
    control: some(fc.record({ lot: text, level: text, kind: fc.constantFrom('liquid', 'electronic') })),
  })
  .map((made) => {
    const { kind } = made;
    const whole = there({
      ...made,
      values: kind === 'error' ? [] : made.values,
      patient: kind === 'control' ? undefined : made.patient,
      control: kind === 'control' ? made.control : undefined,
      errorCode: kind === 'error' ? made.errorCode : undefined,
    });
    return whole as OutgoingReading;
  });

/** Any delivery of any reading: first, corrected, of another person before, withdrawn. */
export const anyDelivery: fc.Arbitrary<Delivery> = fc
  .record({
    seq: fc.integer({ min: 1, max: 1_000_000 }),
    reading: anyReading,
    before: some(
      fc
        .record({
          version: fc.integer({ min: 1, max: 5 }),
          patientId: some(fc.constantFrom('PA-2041', 'PA-7')),
          status: some(fc.constantFrom('settled', 'provisional')),
        })
        .map(there),
    ),
    isWithdrawn: fc.boolean(),
  })
  .map((made) => there({ ...made, isWithdrawn: made.isWithdrawn && made.before !== undefined }) as Delivery);
