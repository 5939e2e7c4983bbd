/** The figures as OpenMetrics text: read back by a strict reader, they are the figures again. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { instant } from '../../../src/core/instant.ts';
import { openMetrics } from '../../../src/dock/control/open-metrics.ts';
import { seedOr } from '../../support/seed.ts';
import { FIGURES, STATUS } from './fake-daemon.ts';
import { readOpenMetrics } from './open-metrics-reader.ts';

const SEED = seedOr(20260301);
const NOW = instant(STATUS.startedAt + 60_000);

describe('the figures as OpenMetrics text', () => {
  const families = readOpenMetrics(openMetrics(STATUS, FIGURES, NOW));
  const value = (name: string, labels: Record<string, string> = {}): number | undefined =>
    families
      .get(`tallydock_${name}`)
      ?.samples.find((sample) => JSON.stringify([...sample.labels]) === JSON.stringify(Object.entries(labels)))?.value;

  it('hold every figure of the daemon', () => {
    expect(value('downloads', { outcome: 'complete' })).toBe(40);
    expect(value('downloads', { outcome: 'cut' })).toBe(2);
    expect(value('readings', { seen: 'new' })).toBe(311);
    expect(value('readings', { seen: 'known' })).toBe(7702);
    expect(value('wire_bytes')).toBe(1_234_567);
    expect(value('damaged_lines')).toBe(3);
    expect(value('troubles', { code: 'PORT_DENIED' })).toBe(5);
    expect(value('troubles', { code: 'DOWNLOAD_CUT' })).toBe(2);
    expect(value('free_bytes')).toBe(512_000_000);
    expect(value('build', { version: '0.1.0' })).toBe(1);
    expect(value('start_time_seconds')).toBe(STATUS.startedAt / 1000);
    expect(value('docks', { phase: 'reading' })).toBe(1);
    expect(value('dock_trouble', { dock: 'room 2' })).toBe(1);
    expect(value('dock_trouble', { dock: 'front desk' })).toBe(0);
    expect(value('warnings')).toBe(1);
    expect(value('outlet_waiting', { outlet: 'head office' })).toBe(12);
    expect(value('outlet_oldest_seconds', { outlet: 'head office' })).toBe(120);
    expect(value('outlet_oldest_seconds', { outlet: 'research' })).toBe(0);
    expect(value('outlet_set_aside', { outlet: 'head office' })).toBe(0);
    expect(value('outlet_trouble', { outlet: 'research' })).toBe(0);
  });

  it('leave out what is not known, instead of making it up', () => {
    const { freeBytes: _, ...figures } = FIGURES;
    expect(readOpenMetrics(openMetrics(STATUS, figures, NOW)).has('tallydock_free_bytes')).toBe(false);
  });

  it('say nothing of a meter', () => {
    expect(openMetrics(STATUS, FIGURES, NOW)).not.toContain('PA-C001');
  });

  it(`stay readable whatever a dock is called (SEED=${SEED})`, () => {
    const names = fc.uniqueArray(fc.string({ unit: 'binary', minLength: 1 }), { minLength: 1, maxLength: 5 });
    const anyName = fc.property(names, (docks) => {
      const status = {
        ...STATUS,
        docks: docks.map((name) => ({ name, phase: 'absent' as const, since: STATUS.startedAt })),
      };
      const told = readOpenMetrics(openMetrics(status, FIGURES, NOW)).get('tallydock_dock_trouble')?.samples;
      expect(told?.map((sample) => sample.labels.get('dock'))).toEqual(docks);
    });
    fc.assert(anyName, { seed: SEED, numRuns: 300 });
  });
});

describe('the reader that the text is held to', () => {
  it.each([
    ['no end', '# TYPE a gauge\n# HELP a x.\na 1\n'],
    ['no last line feed', '# EOF'],
    ['something behind the end', '# EOF\na 1\n'],
    ['a sample without a family', 'a 1\n# EOF\n'],
    ['no help', '# TYPE a gauge\na 1\n# EOF\n'],
    ['an unknown type', '# TYPE a meter\n# HELP a x.\na 1\n# EOF\n'],
    ['a counter without _total', '# TYPE a counter\n# HELP a x.\na 1\n# EOF\n'],
    ['a unit that the name lacks', '# TYPE a gauge\n# UNIT a bytes\n# HELP a x.\na 1\n# EOF\n'],
    ['a quote that is not escaped', '# TYPE a gauge\n# HELP a x.\na{b="""} 1\n# EOF\n'],
    ['the same sample twice', '# TYPE a gauge\n# HELP a x.\na 1\na 2\n# EOF\n'],
    ['families that interleave', '# TYPE a gauge\n# HELP a x.\n# TYPE b gauge\n# HELP b x.\n# UNIT a a\n# EOF\n'],
    ['two spaces', '# TYPE a gauge\n# HELP a x.\na  1\n# EOF\n'],
    ['an empty line', '# TYPE a gauge\n# HELP a x.\n\na 1\n# EOF\n'],
  ])('refuses %s', (_, text) => {
    expect(() => readOpenMetrics(text)).toThrow();
  });
});
