/** Texts around every page. */
export const shell = {
  pages: {
    dock: 'Dock',
    waiting: 'Waiting',
    people: 'People',
    meters: 'Meters',
    controls: 'Controls',
    month: 'Month',
    settings: 'Settings',
  },
  skip: 'To the content',
  lock: 'Lock',
  language: 'Language',
  away: 'tallydock does not answer. It may be starting again; this page goes on by itself.',
  loading: 'One moment …',
  today: 'today',
  yesterday: 'yesterday',
  showAll: 'All',
  undo: 'Undo',
  undone: 'Undone.',
  close: 'Close',
  cancel: 'Cancel',
  save: 'Save',
  caution:
    'Not a medical device, and not for dosing. A result is confirmed and acted on by licensed staff under local policy. Values outside the measuring range, or that do not fit the person, are confirmed in a laboratory.',
};
