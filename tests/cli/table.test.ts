/** Plain tables, and texts that may not steer a terminal. */
import { describe, expect, it } from 'vitest';
import { makeTable, printable } from '../../src/cli/table.ts';

describe('a table', () => {
  it('pads its columns to the widest cell, numbers to the right, without trailing blanks', () => {
    expect(
      makeTable(['meter', '>new']).rows([
        ['PA00042', '3'],
        ['B', '120'],
      ]),
    ).toBe(['meter    new', '-------  ---', 'PA00042    3', 'B        120', ''].join('\n'));
  });

  it('writes its head once, however many pieces it is written in', () => {
    const table = makeTable(['id']);
    expect(table.rows([['D1-1']]) + table.rows([['D1-2']])).toBe('id\n----\nD1-1\nD1-2\n');
  });

  it('shows control characters of a meter or a typist as question marks', () => {
    expect(printable('rosa\u001b[2J\r\n\u009b31m\u2028x')).toBe('rosa?[2J???31m?x');
    expect(makeTable(['operator']).rows([['\u001b]0;x\u0007']])).toBe('operator\n--------\n?]0;x?\n');
  });

  it('leaves letters of any script alone', () => {
    expect(printable('Zoë Ångström 漢字')).toBe('Zoë Ångström 漢字');
  });
});
