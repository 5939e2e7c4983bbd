/** Texts around every page, in German. */
import type { Words } from '../../words.ts';

export const shell: Words['shell'] = {
  pages: {
    dock: 'Dock',
    waiting: 'Offen',
    people: 'Personen',
    meters: 'Messgeräte',
    controls: 'Kontrollen',
    month: 'Monat',
    settings: 'Einstellungen',
  },
  skip: 'Zum Inhalt',
  lock: 'Sperren',
  language: 'Sprache',
  away: 'tallydock antwortet nicht. Vielleicht startet es gerade neu; diese Seite macht von selbst weiter.',
  loading: 'Einen Moment …',
  today: 'heute',
  yesterday: 'gestern',
  showAll: 'Alles',
  undo: 'Rückgängig',
  undone: 'Rückgängig gemacht.',
  close: 'Schließen',
  cancel: 'Abbrechen',
  save: 'Speichern',
  caution:
    'Kein Medizinprodukt und nicht zum Dosieren. Ein Ergebnis wird von befugtem Fachpersonal nach den Regeln des Hauses bestätigt und beurteilt. Werte außerhalb des Messbereichs, oder die nicht zur Person passen, werden im Labor bestätigt.',
};
