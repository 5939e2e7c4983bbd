/** A line of the daemon's log as one plain sentence, for whoever runs it in the foreground. Pure. */
import type { LogLine } from '../dock/log.ts';

/** The sentence. */
export function logLineText({ level, facts, message }: LogLine): string {
  const { dock, port, outlet, code, download, docks } = facts;
  const where = dock ?? port ?? outlet;
  const tests = facts.new === undefined ? '' : `${facts.new} new, ${facts.known ?? 0} known`;
  const watched = docks === undefined ? '' : `${docks} dock${docks === 1 ? '' : 's'}`;
  const more = [watched, download, tests, code].filter(Boolean).join(', ');
  // Trouble that is told as mere information is an empty dock.
  const isEmpty = message === 'trouble' && level === 'info';
  const look = message === 'trouble' && !isEmpty ? '; "tallydock status" says what to do' : '';
  return `${where ? `${where}: ` : ''}${isEmpty ? 'no meter answers' : message}${more ? ` (${more})` : ''}${look}`;
}
