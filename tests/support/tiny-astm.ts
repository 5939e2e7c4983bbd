/**
 * A tiny reader of what an E1394 meter sent, for tests, made from the profile's page alone and sharing nothing with
 * src: frames with a right sum, records cut at CR, tests gathered by their order record.
 */

/** One test as the records tell it. */
export interface TinyTest {
  readonly slot: string;
  readonly runNumber?: string;
  readonly isControl: boolean;
  readonly patientId: string;
  readonly values: readonly { readonly analyte: string; readonly value: string; readonly unit: string }[];
  readonly status: string;
  readonly time: string;
  readonly lot?: string;
  readonly expiry?: string;
  readonly errorCode?: string;
}

/** The records in the whole frames of some bytes, the fields counted from 1 as the standard counts them. */
export function readRecords(bytes: Uint8Array): string[][] {
  const text = Buffer.from(bytes).toString('latin1');
  let message = '';
  for (let stx = text.indexOf('\x02'); stx >= 0; stx = text.indexOf('\x02', stx + 1)) {
    const end = text.indexOf('\r\n', stx);
    if (end < 0) break;
    const counted = text.slice(stx + 1, end - 2);
    let sum = 0;
    for (let i = 0; i < counted.length; i++) sum += counted.charCodeAt(i);
    if (Number.parseInt(text.slice(end - 2, end), 16) === sum % 256) message += counted.slice(1, -1);
  }
  return message
    .split('\r')
    .slice(0, -1)
    .map((record) => ['', ...record.split('|')]);
}

/** The tests in a message, in the order in which they were sent. */
export function readTests(records: readonly (readonly string[])[]): TinyTest[] {
  const tests: TinyTest[] = [];
  let patientId = '';
  for (const [, type, , third = '', ...rest] of records) {
    const field = (n: number): string => rest[n - 4] ?? '';
    const last = tests.at(-1);
    if (type === 'P') patientId = third;
    else if (type === 'O') {
      const [slot = '', runNumber] = field(4).split('^');
      tests.push({
        slot,
        ...(runNumber ? { runNumber } : {}),
        isControl: field(12) === 'Q',
        patientId,
        values: [],
        status: '',
        time: '',
      });
    } else if (last && type === 'R') {
      const value = { analyte: third.split('^')[3] ?? '', value: field(4), unit: field(5) };
      tests[tests.length - 1] = {
        ...last,
        values: value.value ? [...last.values, value] : last.values,
        status: field(9),
        time: field(13),
      };
    } else if (last && type === 'M') {
      const [, lot = '', expiry] = third.split('^');
      tests[tests.length - 1] = { ...last, lot, ...(expiry ? { expiry } : {}) };
    } else if (last && type === 'C') tests[tests.length - 1] = { ...last, errorCode: field(4) };
  }
  return tests;
}
