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
  CONFIG_INVALID: {
    says: 'Die Einstellungsdatei lässt sich so nicht ändern.',
    todo: 'Bitten Sie die Person, die diesen PC betreut, es in config.toml einzutragen.',
  },
  FILE_UNWRITABLE: {
    says: 'Eine Datei lässt sich nicht schreiben.',
    todo: 'Sehen Sie nach, ob die Platte voll oder schreibgeschützt ist.',
  },
  FILE_MISSING: { says: 'Eine Datei ist nicht da.', todo: 'Fragen Sie die Person, die diesen PC betreut.' },
  FILE_UNREADABLE: {
    says: 'Eine Datei lässt sich nicht lesen.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  PROFILE_UNKNOWN: {
    says: 'Diese Art von Messgerät ist hier nicht bekannt.',
    todo: 'Fragen Sie die Person, die diesen PC betreut, nach seinem Profil.',
  },
  PROFILE_INVALID: {
    says: 'Das Profil dieser Art von Messgerät ist falsch.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  PORT_MISSING: { says: 'Der Anschluss ist nicht da.', todo: 'Stecken Sie das Kabel des Docks ein.' },
  PORT_BUSY: { says: 'Ein anderes Programm benutzt den Anschluss.', todo: 'Schließen Sie dieses Programm.' },
  PORT_DENIED: {
    says: 'Dieser PC erlaubt tallydock den Anschluss nicht.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  PORT_NOT_SERIAL: {
    says: 'Das ist kein Anschluss für ein Dock.',
    todo: 'Weisen Sie unter Einstellungen einen anderen zu.',
  },
  PORT_LOST: {
    says: 'Die Verbindung ist abgerissen.',
    todo: 'Sehen Sie nach dem Kabel und setzen Sie das Gerät noch einmal auf.',
  },
  PORT_FAILED: {
    says: 'Der Anschluss lässt sich nicht benutzen.',
    todo: 'Ziehen Sie das Kabel heraus und stecken Sie es wieder ein.',
  },
  METER_SILENT: { says: 'Kein Messgerät antwortet.', todo: 'Schalten Sie es ein und setzen Sie es auf das Dock.' },
  METER_REFUSED: {
    says: 'Das Messgerät hat abgelehnt.',
    todo: 'Sehen Sie, was es anzeigt, und setzen Sie es noch einmal auf.',
  },
  METER_GARBLED: {
    says: 'Was das Messgerät gesendet hat, ist nicht lesbar.',
    todo: 'Sehen Sie nach dem Kabel; wenn es so bleibt, fragen Sie die Person, die diesen PC betreut.',
  },
  METER_ENDLESS: {
    says: 'Das Messgerät hört nicht auf zu senden.',
    todo: 'Schalten Sie es aus und ein und setzen Sie es noch einmal auf.',
  },
  DOWNLOAD_CUT: {
    says: 'Das Auslesen ist abgebrochen. Gelesenes bleibt erhalten.',
    todo: 'Setzen Sie das Gerät für den Rest noch einmal auf.',
  },
  STORE_BUSY: {
    says: 'Der Speicher ist gerade mit etwas anderem beschäftigt.',
    todo: 'Versuchen Sie es gleich noch einmal.',
  },
  STORE_FULL: {
    says: 'Die Platte ist fast voll: Bis Platz ist, wird kein Gerät ausgelesen.',
    todo: 'Was nicht gelesen ist, bleibt auf dem Gerät. Fragen Sie die Person, die diesen PC betreut.',
  },
  STORE_DENIED: {
    says: 'Der Speicher lässt sich nicht beschreiben.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  STORE_DAMAGED: {
    says: 'Der Speicher ist beschädigt.',
    todo: 'Fragen Sie sofort die Person, die diesen PC betreut; es gibt Sicherungen.',
  },
  BACKUP_DAMAGED: { says: 'Die Sicherung ist beschädigt.', todo: 'Machen Sie eine neue, auf einer anderen Platte.' },
  PASSPHRASE_WRONG: {
    says: 'Die Passphrase der Sicherungen ist nicht brauchbar.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  CLOCK_STEPPED: {
    says: 'Die Uhr dieses PCs wurde verstellt, während das Gerät ausgelesen wurde.',
    todo: 'Setzen Sie das Gerät noch einmal auf.',
  },
  OUTLET_DOWN: {
    says: 'Der Empfänger ist nicht erreichbar.',
    todo: 'Nichts geht verloren; es wird von selbst wieder versucht.',
  },
  OUTLET_INVALID: {
    says: 'Der Ausgang ist falsch eingerichtet.',
    todo: 'Fragen Sie die Person, die diesen PC betreut.',
  },
  OUTLET_UNKNOWN: { says: 'Diesen Ausgang gibt es nicht mehr.', todo: 'Laden Sie die Seite neu.' },
  PATIENT_UNKNOWN: { says: 'Diese Person ist nicht eingetragen.', todo: 'Sehen Sie in der Liste der Personen nach.' },
  METER_UNKNOWN: {
    says: 'Dieses Messgerät wurde hier nie ausgelesen.',
    todo: 'Sehen Sie in der Liste der Geräte nach.',
  },
  READING_UNKNOWN: { says: 'Diese Messung gibt es nicht mehr.', todo: 'Laden Sie die Seite neu.' },
  NOT_POSSIBLE: {
    says: 'Das passt nicht zu dem, was gespeichert ist.',
    todo: 'Sehen Sie noch einmal nach: Vielleicht hat es inzwischen jemand geändert.',
  },
  IMPORT_WRONG: {
    says: 'Die Tabelle hat Zeilen, die nicht lesbar sind.',
    todo: 'Berichtigen Sie sie und versuchen Sie es noch einmal; nichts wurde übernommen.',
  },
  CALL_WRONG: { says: 'Eine Angabe stimmt nicht.', todo: 'Berichtigen Sie sie.' },
  ZONE_UNKNOWN: { says: 'Diese Zeitzone gibt es nicht.', todo: 'Wählen Sie eine andere.' },
  SIGN_IN_NEEDED: { says: 'Das Pult ist gesperrt.', todo: 'Melden Sie sich an.' },
  SIGN_IN_WRONG: {
    says: 'Name und Passphrase passen nicht zusammen.',
    todo: 'Sehen Sie nach der Feststelltaste und versuchen Sie es noch einmal.',
  },
  SIGN_IN_RESTING: { says: 'Zu viele falsche Versuche.', todo: 'Warten Sie und versuchen Sie es dann noch einmal.' },
  ROLE_MISSING: { says: 'Ihre Rolle reicht dafür nicht.', todo: 'Bitten Sie jemanden, der das Pult verwaltet.' },
  OPERATOR_UNKNOWN: { says: 'Diese Person am Pult gibt es nicht.', todo: 'Sehen Sie in der Liste nach.' },
  REQUEST_WRONG: {
    says: 'Eine Angabe stimmt nicht oder fehlt.',
    todo: 'Berichtigen Sie sie, oder laden Sie die Seite neu.',
  },
  REQUEST_FOREIGN: {
    says: 'Das Pult wurde unter einem Namen geöffnet, den es nicht kennt.',
    todo: 'Öffnen Sie es unter seiner eigenen Adresse.',
  },
};
