/** What went wrong, by the stable code of the server, in German. */
import type { Words } from '../../words.ts';

export const faults: Words['faults'] = {
  AWAY: {
    says: 'tallydock antwortet nicht.',
    todo: 'Warten Sie einen Moment; wenn es so bleibt, fragen Sie, wer diesen PC betreut.',
  },
  INTERNAL: {
    says: 'In tallydock ist etwas kaputtgegangen.',
    todo: 'Gespeichertes ist sicher. Sagen Sie es der Person, die diesen PC betreut.',
  },
};
