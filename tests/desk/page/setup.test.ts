/** What the first run and the settings show, by itself: zones, ports, passphrases, outlets. */
import { describe, expect, it } from 'vitest';
import { shownPorts } from '../../../src/desk/page/setup/use-ports.ts';
import { zonesToChoose, zoneText } from '../../../src/desk/page/setup/zones.ts';

describe('the zones to choose from', () => {
  it('begin with that of this PC, which stands there once', () => {
    expect(zonesToChoose('Europe/Lisbon', ['Africa/Accra', 'Europe/Lisbon'])).toEqual([
      'Europe/Lisbon',
      'Africa/Accra',
    ]);
  });

  it('hold that of this PC even where the browser does not list it', () => {
    expect(zonesToChoose('UTC', ['Africa/Accra'])).toEqual(['UTC', 'Africa/Accra']);
  });

  it('are written as people read them', () => {
    expect(zoneText('America/St_Johns')).toBe('America/St Johns');
  });
});

describe('the ports', () => {
  it('that came since the page looks stand first and are marked', () => {
    const rows = [
      { port: 'COM1', says: '' },
      { port: 'COM3', says: 'adapter' },
    ];
    expect(shownPorts(rows, new Set(['COM1'])).map(({ port, isNew }) => [port, isNew])).toEqual([
      ['COM3', true],
      ['COM1', false],
    ]);
  });
});
