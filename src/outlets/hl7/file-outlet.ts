/**
 * The outlet to HL7 files: one message a file, complete or not there. The name begins with the place in the log of
 * changes, so that the order of names is the order in which the messages must be read, and holds MSH-10, so that a
 * repeat has the name of the first.
 */
import { access, mkdir, open, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { Fault } from '../../core/fault.ts';
import type { Delivery, Outlet } from '../outlet.ts';
import { syncFolder } from '../sync-folder.ts';
import { messagesOf } from './message.ts';
import type { Hl7Deps, Hl7FileSettings } from './settings.ts';

const BATCH = 100;
/** Digits of the place in the log: enough for ever. */
const PLACE_DIGITS = 10;

/**
 * Makes the outlet. Rejects with OUTLET_DOWN where the folder cannot be written. A file that is there already is left
 * as it is; one that the receiver has taken away is written again only if its batch was not finished.
 */
export function hl7FileOutlet(settings: Hl7FileSettings, deps: Hl7Deps): Outlet {
  const { folder } = settings;
  const sender = { site: deps.site, zone: deps.zone, settings };
  const site = deps.site.replace(/[^A-Za-z0-9_-]+/g, '_');

  async function write(delivery: Delivery): Promise<void> {
    for (const [index, { controlId, text }] of messagesOf(delivery, sender, deps.now()).entries()) {
      const place = `${String(delivery.seq).padStart(PLACE_DIGITS, '0')}-${index + 1}`;
      const path = join(folder, `${place}-${site}-${controlId}.hl7`);
      if (!(await isThere(path))) await writeWhole(path, text);
    }
  }

  return {
    batchSize: BATCH,
    async send(batch) {
      try {
        await mkdir(folder, { recursive: true });
        for (const delivery of batch) await write(delivery);
        await syncFolder(folder);
      } catch (cause) {
        const hint = 'Check that the folder exists and may be written, and that there is room on the disk';
        throw new Fault('OUTLET_DOWN', `The HL7 files in ${folder} cannot be written`, hint, { cause });
      }
      return batch.map(() => ({ kind: 'taken' }));
    },
    close: () => Promise.resolve(),
  };
}

async function isThere(path: string): Promise<boolean> {
  try {
    await access(path);
    return true;
  } catch {
    return false;
  }
}

/** Writes beside the target, waits for the disk, and moves it there. Only its owner may read it. */
async function writeWhole(path: string, text: string): Promise<void> {
  const draft = `${path}.part`;
  try {
    const handle = await open(draft, 'w', 0o600);
    try {
      await handle.writeFile(text, 'utf8');
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(draft, path);
  } catch (thrown) {
    await rm(draft, { force: true });
    throw thrown;
  }
}
