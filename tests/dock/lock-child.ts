/** A process that takes the lock of the folder in its first argument, says how that went, and holds it until it is ended. */
import { instant } from '../../src/core/instant.ts';
import { takeLock } from '../../src/dock/lock.ts';

try {
  takeLock(process.argv[2] ?? '', { pid: process.pid, since: instant(Date.now()), control: 'nowhere' });
  process.stdout.write('held\n');
} catch (thrown) {
  process.stdout.write(`${thrown instanceof Error ? thrown.message : thrown}\n`);
}
setInterval(() => {}, 60_000);
