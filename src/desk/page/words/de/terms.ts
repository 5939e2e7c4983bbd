/** Words for what the program's own states are called, in German. */
import type { Words } from '../../words.ts';

export const terms: Words['terms'] = {
  standing: {
    'critical-low': 'kritisch niedrig',
    below: 'unter dem Bereich',
    in: 'im Bereich',
    above: 'über dem Bereich',
    'critical-high': 'kritisch hoch',
    'no-target': 'kein Zielbereich gesetzt',
  },
  kind: { patient: 'Patiententest', control: 'Kontrolltest', error: 'Fehltest' },
  roles: { look: 'ansehen', work: 'arbeiten', manage: 'verwalten' },
  tests: { one: '# Test', other: '# Tests' },
  days: { one: '# Tag', other: '# Tage' },
  readings: { one: '# Messung', other: '# Messungen' },
  people: { one: '# Person', other: '# Personen' },
  meters: { one: '# Gerät', other: '# Geräte' },
};
