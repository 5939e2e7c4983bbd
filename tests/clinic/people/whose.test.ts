import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Person, type WhoseFacts, whose } from '../../../src/clinic/people/whose.ts';
import { instant } from '../../../src/core/instant.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const ANA: Person = { patientNo: 1, id: 'ALDER-07945' };
const BEN: Person = { patientNo: 2, id: 'ALDER-018' };
const at = (hour: number) => instant(Date.UTC(2026, 2, 2, hour));
const made = (from: number, to: number, rest: Partial<WhoseFacts> = {}): WhoseFacts => ({
  earliest: at(from),
  latest: at(to),
  at: at((from + to) / 2),
  lends: [],
  expected: [],
  ...rest,
});

describe('whose a reading is', () => {
  it('is the person’s who had the meter for the whole time in which it may have been made', () => {
    const lends = [{ person: ANA, from: at(8), to: at(12) }];
    expect(whose(made(8, 11, { lends }), 'none')).toEqual({ kind: 'known', person: ANA, basis: 'lent' });
  });

  it.each([
    ['before the meter was lent', 7, 9],
    ['after it came back', 11, 13],
    ['at the very moment at which it came back', 11, 12],
  ])('is doubtful where it may have been made %s', (_, from, to) => {
    const lends = [{ person: ANA, from: at(8), to: at(12) }];
    const found = whose(made(from, to, { lends }), 'none');
    expect(found.kind).toBe('doubtful');
    expect('sentence' in found && found.sentence).toContain('changed hands');
  });

  it('has nothing to do with who had the meter before or after', () => {
    const lends = [
      { person: BEN, from: at(1), to: at(8) },
      { person: ANA, from: at(8), to: at(12) },
      { person: BEN, from: at(13) },
    ];
    expect(whose(made(8, 11, { lends }), 'none')).toEqual({ kind: 'known', person: ANA, basis: 'lent' });
    expect(whose(made(12, 12.5, { lends }), 'none').kind).toBe('unknown');
    expect(whose(made(12.5, 13, { lends }), 'none').kind).toBe('doubtful');
  });

  it('is doubtful where the meter is said to have been in two hands at once', () => {
    const lends = [
      { person: ANA, from: at(8), to: at(12) },
      { person: BEN, from: at(9), to: at(12) },
    ];
    expect(whose(made(10, 11, { lends }), 'none').kind).toBe('doubtful');
  });

  it('ends with a lend that was renewed when the second one ends, and not before', () => {
    const ended = [
      { person: ANA, from: at(8), to: at(10) },
      { person: ANA, from: at(10), to: at(12) },
    ];
    expect(whose(made(9, 11, { lends: ended }), 'none').kind).toBe('known');
    expect(whose(made(11, 13, { lends: ended }), 'none').kind).toBe('doubtful');
    expect(whose(made(13, 14, { lends: ended }), 'none').kind).toBe('unknown');
    const open = [ended[0], { person: ANA, from: at(10) }].flatMap((lend) => lend ?? []);
    expect(whose(made(13, 14, { lends: open }), 'none').kind).toBe('known');
  });

  it('says why a keyed id is only proposed', () => {
    const keyed = { id: 'ALDER-019', person: BEN };
    const said = (scheme: 'none' | 'luhn') => whose(made(9, 10, { keyed }), scheme);
    expect(said('none')).toMatchObject({
      sentence: 'ALDER-019 was keyed into the meter; ids here have no check digit, so please confirm',
    });
    expect(said('luhn')).toMatchObject({
      sentence: 'ALDER-019 was keyed into the meter; the id does not pass its check, so please confirm',
    });
  });

  it('is doubtful between two people, and names both', () => {
    const lends = [
      { person: ANA, from: at(8), to: at(12) },
      { person: BEN, from: at(12) },
    ];
    const found = whose(made(11, 13, { lends }), 'none');
    expect('sentence' in found && found.sentence).toContain('ALDER-07945 and ALDER-018');
  });

  it('is doubtful where a bound is open and the meter was lent to one person only for a while', () => {
    const { earliest: _, ...open } = made(9, 10, { lends: [{ person: ANA, from: at(8) }] });
    expect(whose(open, 'none').kind).toBe('doubtful');
  });

  it('is doubtful where another person’s id was keyed into a lent meter', () => {
    const lends = [{ person: ANA, from: at(8) }];
    expect(whose(made(9, 10, { lends, keyed: { id: BEN.id, person: BEN } }), 'luhn').kind).toBe('doubtful');
    expect(whose(made(9, 10, { lends, keyed: { id: ANA.id, person: ANA } }), 'luhn').kind).toBe('known');
  });

  it('is doubtful where an id that nobody here has was keyed into a lent meter', () => {
    const lends = [{ person: ANA, from: at(8) }];
    expect(whose(made(9, 10, { lends, keyed: { id: '99' } }), 'none').kind).toBe('doubtful');
  });

  it('is the person’s across a lend that was renewed without a gap, and doubtful across one with a gap', () => {
    const renewed = [
      { person: ANA, from: at(12) },
      { person: ANA, from: at(8), to: at(12) },
    ];
    expect(whose(made(11, 13, { lends: renewed }), 'none')).toEqual({ kind: 'known', person: ANA, basis: 'lent' });
    const apart = [
      { person: ANA, from: at(8), to: at(11) },
      { person: ANA, from: at(12) },
    ];
    expect(whose(made(10, 13, { lends: apart }), 'none').kind).toBe('doubtful');
  });

  it('on a shared meter goes by the id keyed in only where that passes its check', () => {
    const keyed = { id: ANA.id, person: ANA };
    expect(whose(made(9, 10, { keyed }), 'mod11-10')).toEqual({ kind: 'known', person: ANA, basis: 'keyed' });
    expect(whose(made(9, 10, { keyed }), 'none')).toMatchObject({ kind: 'proposed', person: ANA });
    expect(whose(made(9, 10, { keyed }), 'luhn')).toMatchObject({ kind: 'proposed', person: ANA });
  });

  it('is proposed by the nearest appointment where no id of ours was keyed in, and never taken from it', () => {
    expect(whose(made(9, 10, { expected: [BEN, ANA] }), 'none')).toMatchObject({ kind: 'proposed', person: BEN });
    const strange = { keyed: { id: '99' }, expected: [BEN] };
    const found = whose(made(9, 10, strange), 'none');
    expect(found).toMatchObject({ kind: 'proposed', person: BEN });
    expect('sentence' in found && found.sentence).toContain('nobody here has this id');
  });

  it('is unknown, or doubtful with an id that nobody has, where nothing tells', () => {
    expect(whose(made(9, 10), 'none').kind).toBe('unknown');
    expect(whose(made(9, 10, { keyed: { id: '99' } }), 'none').kind).toBe('doubtful');
  });

  it('is what an operator said, whatever else is known', () => {
    const lends = [{ person: ANA, from: at(8) }];
    expect(whose(made(9, 10, { lends, said: { person: BEN } }), 'none')).toEqual({
      kind: 'known',
      person: BEN,
      basis: 'confirmed',
    });
    expect(whose(made(9, 10, { lends, said: {} }), 'none')).toEqual({ kind: 'nobody' });
  });
});

const SEED = seedOr(20260301);
it(`a lent meter's reading is the person's who had it at every moment in question, else doubtful (SEED=${SEED})`, () => {
  const spans = fc.array(fc.record({ person: fc.constantFrom(ANA, BEN), free: fc.nat(3), hours: fc.nat(4) }), {
    maxLength: 6,
  });
  fc.assert(
    fc.property(spans, fc.nat(30), fc.nat(6), fc.boolean(), (steps, from, length, isLastOpen) => {
      let hour = 0;
      const lends = steps.map(({ person, free, hours }, i) => {
        const begun = hour + free;
        hour = begun + 1 + hours;
        return { person, from: at(begun), ...((!isLastOpen || i + 1 < steps.length) && { to: at(hour) }) };
      });
      // All begins and ends are whole hours, so these moments are all that differ.
      const moments = Array.from({ length: length + 1 }, (_, i) => at(from + i));
      const holders = moments.map(
        (moment) => lends.find((l) => l.from <= moment && (l.to === undefined || l.to > moment))?.person.id,
      );
      const found = whose(made(from, from + length, { lends }), 'none');
      const [first] = holders;
      if (holders.some((id) => id !== first)) expect(found.kind).toBe('doubtful');
      else if (first === undefined) expect(found.kind).toBe('unknown');
      else expect(found).toMatchObject({ kind: 'known', basis: 'lent', person: { id: first } });
    }),
    { seed: SEED, numRuns: runsOr(500) },
  );
});
