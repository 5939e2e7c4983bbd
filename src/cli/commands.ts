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
    summary: 'write readings as a CSV file ("export csv"), or recorded conversations ("export captures")',
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
