/** Words for what the program's own states are called, used by several pages. */
export const terms = {
  standing: {
    'critical-low': 'critically low',
    below: 'below range',
    in: 'in range',
    above: 'above range',
    'critical-high': 'critically high',
    'no-target': 'no target set',
  },
  kind: { patient: 'patient test', control: 'control test', error: 'error test' },
  roles: { look: 'look', work: 'work', manage: 'manage' },
  tests: { one: '# test', other: '# tests' },
  days: { one: '# day', other: '# days' },
  readings: { one: '# reading', other: '# readings' },
  people: { one: '# person', other: '# people' },
  meters: { one: '# meter', other: '# meters' },
};
