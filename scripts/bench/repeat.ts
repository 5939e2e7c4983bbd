/** A repeated download of 200 known results: CPU time of taking it in, which is one transaction. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { instant } from '../../src/core/instant.ts';
import { takeInCapture } from '../../src/intake/take-in.ts';
import { fingerprint } from '../../src/store/capture-pack.ts';
import { openStore } from '../../src/store/open-store.ts';
import { ownMark } from '../../src/store/process-mark.ts';
import { download, fullMeter, profiles } from './lib/meters.ts';
import { median, reportLimit } from './lib/report.ts';

const ROUNDS = 60;
const WARM_UP = 20;

const folder = mkdtempSync(join(tmpdir(), 'tallydock-bench-'));
const store = openStore({ dir: folder, now: instant(Date.now()) });
try {
  const context = { now: instant(Date.now()), actor: 'bench' };
  const meter = fullMeter(200, 'line');
  const figures: number[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    const capture = download(meter, 'line', round);
    const captureNo = store.captures.add(capture, fingerprint(capture), ownMark());
    const before = process.cpuUsage();
    const { downloads } = takeInCapture(store, captureNo, profiles, context);
    const { user, system } = process.cpuUsage(before);
    const [taken] = downloads;
    if (taken?.complete !== true || taken.new + taken.known !== 200) throw new Error('the memory was not told whole');
    if (round > 0 && taken.known !== 200) throw new Error(`${taken.new} of 200 known results were taken for new`);
    if (round >= WARM_UP) figures.push((user + system) / 1000);
  }
  reportLimit('repeated download of 200 known results, CPU', median(figures), 5, 'ms');
} finally {
  store.close();
  rmSync(folder, { recursive: true, force: true });
}
