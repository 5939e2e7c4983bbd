/** The memory state as text: what this code wrote is taken as it is, anything else is checked or refused. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { readMemoryState, writeMemoryState } from '../../src/intake/memory-json.ts';
import { download, fold, hole, test } from '../memory/meter-words.ts';

const state = fold(download(9, [test(1), test(2)]), download(19, [hole, test(11)])).state;

describe('a memory state', () => {
  it('comes back as it was written', () => {
    expect(state.sequence.some((item) => item.kind === 'gap')).toBe(true);
    expect(readMemoryState(writeMemoryState(state))).toEqual(state);
  });

  it('is checked field by field where its seal is not that of its text, and taken if it holds', () => {
    expect(readMemoryState({ ...writeMemoryState(state), seal: '' })).toEqual(state);
  });

  it.each([
    ['another field', (text: string) => text.replace('"kind":"test"', '"kind":"test","colour":"red"')],
    ['a status that there is not', (text: string) => text.replace('"settled"', '"perhaps"')],
    ['half a text', (text: string) => text.slice(0, text.length / 2)],
  ])('is refused as damaged with %s', (_, damage) => {
    const written = writeMemoryState(state);
    const damaged = { ...written, sequence: damage(written.sequence) };
    expect(damaged.sequence).not.toBe(written.sequence);
    expect(() => readMemoryState(damaged)).toThrow(Fault);
    expect(() => readMemoryState(damaged)).toThrow(/cannot be read/);
  });

  it('is refused as damaged where its small part is not what it should be', () => {
    expect(() => readMemoryState({ ...writeMemoryState(state), standing: '{}' })).toThrow(Fault);
  });
});
