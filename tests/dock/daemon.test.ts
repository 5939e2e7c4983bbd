/** The daemon over real TCP ports with virtual meters behind them. */
import { describe, expect, it, onTestFinished } from 'vitest';
import type { Store } from '../../src/store/store.ts';
import { type ServedMeterOptions, serveMeter } from '../support/served-meter.ts';
import { dockOf } from './made-up.ts';
import { realDaemon } from './real-daemon.ts';

async function meterAt(options: ServedMeterOptions = {}) {
  const served = await serveMeter(options);
  onTestFinished(() => served.close());
  return served;
}

const countOf = (store: Store): number =>
  Number(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM reading').get()?.n);

describe('a meter that is docked', () => {
  it('is read whole, its clock is set, and it stays docked', async () => {
    const meter = await meterAt({ held: 20, clockOffMs: 3_600_000 });
    const { until, store, daemon } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    const status = await until('left', (dock) => dock.phase === 'docked');
    expect(status).toMatchObject({ port: meter.where, meter: { id: 'PA-T001', model: 'GM-10' } });
    expect(status.trouble).toBeUndefined();
    expect(store.downloads.list()).toMatchObject([{ complete: true, new: 20, known: 0, clockSet: true }]);
    expect(countOf(store)).toBe(20);
    expect(daemon.figures()).toMatchObject({ downloads: { complete: 1, cut: 0 }, readings: { new: 20, known: 0 } });
  });

  it('has a new test taken at once, and is not read again without one', async () => {
    const meter = await meterAt({ held: 5 });
    const { until, store } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    await until('left', (dock) => dock.phase === 'docked');
    await new Promise((resolve) => setTimeout(resolve, 1000)); // three HELLOs
    expect(store.downloads.list()).toHaveLength(1);
    meter.test({ kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }] });
    await until('left', () => countOf(store) === 6);
    await until('left', (dock) => dock.phase === 'docked');
    expect(store.downloads.list()).toMatchObject([
      { complete: true, new: 5 },
      { complete: true, new: 1, known: 5 },
    ]);
  });
});
