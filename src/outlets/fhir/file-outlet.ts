/**
 * The outlet to NDJSON files: one FHIR resource a line, the resources of one delivery behind each other. References
 * are `Type/id` with ids made of our keys, so that a file can be loaded as it stands; a correction is a later line
 * with the same id. Gateway, meters, strips and people are told again now and then, always with the same id.
 */
import { mkdir, open, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { Fault } from '../../core/fault.ts';
import type { Instant } from '../../core/instant.ts';
import { formatWall } from '../../core/meter-time.ts';
import { zoneOf } from '../../core/zone.ts';
import type { Delivery, Outlet, SendResult } from '../outlet.ts';
import { syncFolder } from '../sync-folder.ts';
import { writeBehind } from '../write-behind.ts';
import { fhirJson } from './fhir-json.ts';
import { deliveryName, systemsOf, uuidOf } from './keys.ts';
import { findEnd, openRepaired } from './ndjson-file.ts';
import type { Speaker } from './observation.ts';
import type { FhirDeps, FhirFileSettings } from './settings.ts';
import { type Telling, tellDelivery } from './tell.ts';

const BATCH = 200;
// As many as fit a few batches: only the batch that was on its way when something failed can come again.
const REMEMBERED = 5000;
const DAILY = /^fhir-\d{4}-\d{2}-\d{2}\.ndjson$/;

/** `zone` is the IANA zone whose days name the files. */
export interface FhirFileDeps extends FhirDeps {
  readonly zone: string;
}

/**
 * Makes the outlet. Rejects with OUTLET_DOWN where the disk does not take what is written: then nothing of the batch
 * counts as taken, and what was half written is cut off again. A delivery that the end of the newest two files holds
 * already is taken without being written twice.
 */
export function fhirFileOutlet(settings: FhirFileSettings, deps: FhirFileDeps): Outlet {
  const zone = zoneOf(deps.zone);
  const speaker: Speaker = {
    site: deps.site,
    systems: systemsOf(deps.site, settings.system, settings['patient-system']),
    refer: (key) => `${key.type}/${uuidOf(key)}`,
  };
  const held = new Recent(REMEMBERED);
  const told = new Recent(REMEMBERED);
  let current: { readonly path: string; readonly size: number } | undefined;

  const pathAt = (now: Instant): string =>
    join(
      settings.folder,
      settings.files === 'one' ? 'fhir.ndjson' : `fhir-${formatWall(zone.wallAt(now), 86_400_000)}.ndjson`,
    );

  /** Reads what the file before this one ends with: a batch may come again after midnight. */
  async function rememberEarlier(path: string): Promise<void> {
    const names = (await readdir(settings.folder)).filter((name) => DAILY.test(name)).sort();
    const earlier = names
      .map((name) => join(settings.folder, name))
      .filter((other) => other < path)
      .at(-1);
    if (settings.files === 'one' || earlier === undefined) return;
    const handle = await open(earlier, 'r');
    try {
      for (const mark of (await findEnd(handle, earlier)).marks) held.add(nameIn(mark));
    } finally {
      await handle.close();
    }
  }

  async function append(batch: readonly Delivery[], now: Instant): Promise<void> {
    await mkdir(settings.folder, { recursive: true });
    const path = pathAt(now);
    if (current === undefined) await rememberEarlier(path);
    const isKnown = current?.path === path;
    const { handle, end } = await openRepaired(path, isKnown ? current?.size : undefined);
    try {
      // A file that is not as we left it was begun anew, by us or by somebody: its readers have not been told of anybody.
      if (!isKnown || current?.size !== end.bytes) told.clear();
      for (const mark of end.marks) held.add(nameIn(mark));
      const fresh = batch.filter((delivery) => !held.has(deliveryName(delivery)));
      const lines = fresh.flatMap((delivery) => linesOf(delivery, tellDelivery(delivery, speaker, now), told));
      const bytes = Buffer.from(lines.join(''), 'utf8');
      await writeBehind(handle, bytes, end.bytes);
      if (end.bytes === 0) await syncFolder(settings.folder);
      for (const delivery of fresh) held.add(deliveryName(delivery));
      current = { path, size: end.bytes + bytes.length };
    } catch (thrown) {
      current = undefined;
      throw thrown;
    } finally {
      await handle.close();
    }
  }

  return {
    batchSize: BATCH,
    async send(batch): Promise<readonly SendResult[]> {
      try {
        await append(batch, deps.now());
      } catch (cause) {
        if (cause instanceof Fault) throw cause;
        const hint = 'Check that the folder exists and may be written, and that there is room on the disk';
        throw new Fault('OUTLET_DOWN', `The FHIR files in ${settings.folder} cannot be written`, hint, { cause });
      }
      return batch.map(() => ({ kind: 'taken' }));
    },
    close: () => Promise.resolve(),
  };
}

/** The lines of one delivery: its own resources, and of the shared ones those that were not told lately. */
function linesOf({ reading }: Delivery, tellings: readonly Telling[], told: Recent): readonly string[] {
  return tellings.flatMap(({ key, make, isShared }) => {
    const id = uuidOf(key);
    if (isShared && told.has(id)) return [];
    if (isShared) told.add(id);
    const resource = make();
    const tag = 'meta' in resource ? resource.meta.tag : undefined;
    const versionId = key.type === 'Observation' && !isShared ? String(reading.version) : undefined;
    const meta = tag || versionId ? { versionId, tag } : undefined;
    const { resourceType, ...rest } = resource;
    return [`${fhirJson({ resourceType, id, ...rest, ...(meta ? { meta } : {}) })}\n`];
  });
}

/** The delivery that a Provenance line is about. Our own line: its tag stands where we wrote it. */
function nameIn(line: string): string {
  const provenance: { meta?: { tag?: readonly { code?: string }[] } } = JSON.parse(line);
  return provenance.meta?.tag?.[0]?.code ?? '';
}

/** The newest of many words; older ones are forgotten. */
class Recent {
  readonly #words = new Set<string>();
  readonly #most: number;

  constructor(most: number) {
    this.#most = most;
  }

  has(word: string): boolean {
    return this.#words.has(word);
  }

  add(word: string): void {
    this.#words.add(word);
    if (this.#words.size <= this.#most) return;
    for (const oldest of this.#words) {
      this.#words.delete(oldest);
      break;
    }
  }

  clear(): void {
    this.#words.clear();
  }
}
