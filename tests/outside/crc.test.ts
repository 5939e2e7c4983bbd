/**
 * CRC-16/IBM-3740 against figures from outside. Source of the parameters and of the check value 29B1: the entry
 * CRC-16/IBM-3740 (alias CRC-16/CCITT-FALSE) of the catalogue of parametrised CRC algorithms, also quoted in the
 * documentation of the donglora-protocol crate (docs.rs) and on pub.dev. The further vectors were computed from those
 * parameters bit by bit, outside this program; the slow form below computes them once more.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CRC_START, crc16, crc16Text, crcHex } from '../../src/wire/line/crc16.ts';

const ascii = (text: string): Uint8Array => new TextEncoder().encode(text);

/** The definition itself, one bit at a time: no table. */
function bitByBit(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) {
    for (let bit = 7; bit >= 0; bit--) {
      const top = ((crc >> 15) & 1) ^ ((byte >> bit) & 1);
      crc = ((crc << 1) & 0xffff) ^ (top ? 0x1021 : 0);
    }
  }
  return crc;
}

describe('CRC-16/IBM-3740', () => {
  it.each([
    ['the check value of the catalogue', ascii('123456789'), '29B1'],
    ['no bytes', ascii(''), 'FFFF'],
    ['one byte', ascii('A'), 'B915'],
    ['256 bytes (another variant of the name CCITT gives E938)', ascii('A'.repeat(256)), 'EA0B'],
    ['a text with its own CRC behind it leaves no remainder', Uint8Array.of(...ascii('123456789'), 0x29, 0xb1), '0000'],
  ])('gives the known sum of %s', (_, bytes, sum) => {
    expect(crcHex(crc16(bytes))).toBe(sum);
    expect(crcHex(bitByBit(bytes))).toBe(sum);
  });

  it('equals the definition bit by bit, and may be summed piece by piece', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), fc.nat(300), (bytes, cut) => {
        expect(crc16(bytes)).toBe(bitByBit(bytes));
        expect(crc16(bytes.subarray(cut), crc16(bytes.subarray(0, cut)))).toBe(crc16(bytes));
      }),
      { seed: 20260301 },
    );
  });

  it('finds every damaged bit, every damaged pair of bits, and every burst of 16', () => {
    // Why it must: the polynomial is (x+1) times a primitive one of degree 15, so the distance is 4 at this length.
    const line = ascii('REC i=1 n=212 t=2000-01-18T19:03 k=p a=INR v=2.6');
    const bits = line.length * 8;
    const flipped = (...at: number[]): Uint8Array => {
      const copy = Uint8Array.from(line);
      for (const bit of at) copy[bit >> 3] = (copy[bit >> 3] ?? 0) ^ (1 << (bit & 7));
      return copy;
    };
    const right = crc16(line);
    let missed = 0;
    for (let a = 0; a < bits; a++) {
      if (crc16(flipped(a)) === right) missed++;
      for (let b = a + 1; b < bits; b++) if (crc16(flipped(a, b)) === right) missed++;
    }
    for (let a = 0; a + 16 <= bits; a++)
      if (crc16(flipped(...Array.from({ length: 16 }, (_, i) => a + i))) === right) missed++;
    expect(missed).toBe(0);
  });

  it('sums text as it sums its bytes', () => {
    expect(crc16Text('123456789')).toBe(crc16(ascii('123456789')));
    expect(crc16Text('')).toBe(CRC_START);
  });
});
