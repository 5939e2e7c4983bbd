/** The commands, each with its one-line summary; the file of a command is loaded only when it is called. */
import type { Command } from 'commander';

export interface CommandEntry {
  /** One plain sentence for the list of commands. */
  readonly summary: string;
  /** Loads the command's file and makes the command. */
  readonly load: () => Promise<Command>;
}

export const COMMANDS: Readonly<Record<string, CommandEntry>> = {
  collect: {
    summary: 'read a meter that is plugged in, and keep every test that is new',
    load: async () => (await import('./collect.ts')).collectCommand(),
  },
  replay: {
    summary: 'take in capture files as if they happened at the times written in them',
    load: async () => (await import('./replay.ts')).replayCommand(),
  },
  ports: {
    summary: 'list the serial ports of this computer and the profile each would use',
    load: async () => (await import('./ports.ts')).portsCommand(),
  },
  export: {
    summary:
      'write readings as a CSV file ("export csv"), a table for research ("export research"), or recorded conversations ("export captures")',
    load: async () => (await import('./export.ts')).exportCommand(),
  },
  meters: {
    summary: 'list the meters that were ever read, and how far off their clocks were',
    load: async () => (await import('./meters.ts')).metersCommand(),
  },
  downloads: {
    summary: 'list every download: what was new, what was known, whether anything is missing',
    load: async () => (await import('./downloads.ts')).downloadsCommand(),
  },
  readings: {
    summary: 'list the readings with their true times',
    load: async () => (await import('./readings.ts')).readingsCommand(),
  },
  incidents: {
    summary: 'list what happened to the clocks and memories of the meters',
    load: async () => (await import('./incidents.ts')).incidentsCommand(),
  },
  explain: {
    summary: 'say why a reading has its time and where it came from, byte for byte',
    load: async () => (await import('./explain.ts')).explainCommand(),
  },
  patients: {
    summary: 'the people whose readings are looked after: list, show, add, change, target, import',
    load: async () => (await import('./patients.ts')).patientsCommand(),
  },
  lend: {
    summary: 'lend a meter to a person: what it measures meanwhile is theirs',
    load: async () => (await import('./lend.ts')).lendCommand(),
  },
  'take-back': {
    summary: 'note that a lent meter has come back',
    load: async () => (await import('./take-back.ts')).takeBackCommand(),
  },
  appointments: {
    summary: 'who is expected when, to propose whose a reading of a shared meter is: list, import',
    load: async () => (await import('./appointments.ts')).appointmentsCommand(),
  },
  holds: {
    summary: 'list the readings that wait for a person, each with what is doubtful',
    load: async () => (await import('./holds.ts')).holdsCommand(),
  },
  release: {
    summary: 'let readings that wait go on',
    load: async () => (await import('./decide.ts')).releaseCommand(),
  },
  assign: {
    summary: 'say whose readings are',
    load: async () => (await import('./decide.ts')).assignCommand(),
  },
  void: {
    summary: 'strike readings out; they stay, marked',
    load: async () => (await import('./decide.ts')).voidCommand(),
  },
  undo: {
    summary: 'take back what was decided last about a reading',
    load: async () => (await import('./decide.ts')).undoCommand(),
  },
  lots: {
    summary: 'the register of strip lots: list, add',
    load: async () => (await import('./lots.ts')).lotsCommand(),
  },
  controls: {
    summary: 'the register of control materials: list, add, name',
    load: async () => (await import('./controls.ts')).controlsCommand(),
  },
  lab: {
    summary: 'values of the laboratory, to compare meters with: list, add, import',
    load: async () => (await import('./lab.ts')).labCommand(),
  },
  operators: {
    summary: 'who may sign in at the desk, and how far their role goes',
    load: async () => (await import('./operators.ts')).operatorsCommand(),
  },
  outlet: {
    summary: 'where readings are forwarded to: add, list, try, prepare, send, pause, resume, replay, remove',
    load: async () => (await import('./outlet.ts')).outletCommand(),
  },
  report: {
    summary: 'one page to read or print: about a person, about the visit of a meter',
    load: async () => (await import('./report.ts')).reportCommand(),
  },
  rebuild: {
    summary: 'make all readings afresh from the stored bytes and report any difference',
    load: async () => (await import('./rebuild.ts')).rebuildCommand(),
  },
  backup: {
    summary: 'write a verified copy of the store, also while a download runs',
    load: async () => (await import('./backup.ts')).backupCommand(),
  },
  check: {
    summary: 'look over the store, the disk, the ports, the backups and the clock of this PC',
    load: async () => (await import('./check.ts')).checkCommand(),
  },
  restore: {
    summary: 'put a backup into a data folder that has no store yet',
    load: async () => (await import('./restore.ts')).restoreCommand(),
  },
  serve: {
    summary: 'watch the docks, and read each meter that is plugged in, until it is stopped',
    load: async () => (await import('./serve.ts')).serveCommand(),
  },
  status: {
    summary: 'show what the running daemon does at each dock, and what to do about trouble',
    load: async () => (await import('./status.ts')).statusCommand(),
  },
  'install-service': {
    summary: 'print how to have the daemon started with the computer',
    load: async () => (await import('./install-service.ts')).installServiceCommand(),
  },
  'virtual-meter': {
    summary: 'be a meter that does not exist, for trying things out',
    load: async () => (await import('./virtual-meter.ts')).virtualMeterCommand(),
  },
};
