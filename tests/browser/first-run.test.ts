/** The first day: an empty store leads by the hand, a meter on a pseudo-terminal is read before her eyes. */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { controlClient } from '../../src/dock/control/client.ts';
import { openStore } from '../../src/store/open-store.ts';
import { barriers, openBrowser, type Visit, visit } from '../support/browser.ts';
import { type RunningDaemon, runDaemon } from '../support/run-daemon.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { type RunningMeter, runVirtualMeter } from '../support/virtual-meter.ts';

describe('the first run', { timeout: 120_000 }, () => {
  let browser: Browser;
  let program: Program;
  let daemon: RunningDaemon;
  let meter: RunningMeter;
  let nurse: Visit;

  beforeAll(async () => {
    browser = await openBrowser();
    program = makeProgram();
    writeFileSync(join(program.data, 'config.toml'), '# of the PC at the front desk\n[desk]\nport = 0\n');
    daemon = await runDaemon(program);
    // A calm pace, so that the tally can be seen growing.
    meter = await runVirtualMeter(
      '--pty',
      '--held',
      '34',
      '--id',
      'PA-H017',
      '--run-numbers',
      '--baud',
      '4800',
      '--clock-off',
      '4000',
    );
    nurse = await visit(browser, (await controlClient(program.data).status()).desk ?? '');
  }, 60_000);
  afterAll(async () => {
    await browser.close();
    await daemon.signal('SIGTERM');
    await meter.stop();
    program.dispose();
  });

  it('asks for the clinic and its zone, then for the first operator, one question a step', async () => {
    const { page } = nurse;
    await page.getByLabel('Name of the clinic').fill('Port Alder anticoagulation clinic');
    expect(await barriers(page)).toEqual([]);
    await page.getByRole('button', { name: 'Next' }).click();
    await page.getByLabel('Time zone').selectOption('Europe/Lisbon');
    await page.getByRole('button', { name: 'Next' }).click();
    await page.getByLabel('Name', { exact: true }).fill('Rosa');
    await page.getByLabel('Passphrase', { exact: true }).fill('salt harbour nine');
    await page.getByLabel('Passphrase once more').fill('salt harbour nine');
    expect(await barriers(page)).toEqual([]);
    await page.getByRole('button', { name: 'Create and go on' }).click();
    await page.getByRole('heading', { name: 'Where is the dock plugged in?' }).waitFor();
    const config = readFileSync(join(program.data, 'config.toml'), 'utf8');
    expect(config).toContain('# of the PC at the front desk');
    expect(config).toContain('clinic = "Port Alder anticoagulation clinic"');
    expect(config).toContain('zone = "Europe/Lisbon"');
  });

  it('takes the dock, reads the meter on it before her eyes, and says when it may be taken off', async () => {
    const { page } = nurse;
    await page.getByLabel('Another one, by its name').check();
    await page.getByLabel('Name of the port').fill(meter.where);
    expect(await barriers(page)).toEqual([]);
    await page.getByRole('button', { name: 'Assign' }).click();
    await page.getByRole('button', { name: 'To the desk' }).click();
    await page.getByText(/\d+ of 34 read\. Leave it on\./).waitFor();
    await page.getByText('Safely stored: 34 new, 0 known. You can take it off.').waitFor();
    expect(await page.locator('.dock-tile').innerText()).toMatch(/Its clock was 7\d min fast and is right now\./);
    await page.getByRole('img', { name: 'Tally of the memory: 34 new, 0 known, 0 to come.' }).waitFor();
    expect(await barriers(page)).toEqual([]);
  });

  it('stored what it showed, once, and audited the dock with her name', async () => {
    const store = openStore({ dir: program.data, now: instant(Date.now()) });
    try {
      expect(store.readings.count(1)).toBe(34);
      expect(store.audit.list().map((a) => [a.actor, a.action, a.subject])).toContainEqual([
        'Rosa',
        'dock-assigned',
        'dock front desk',
      ]);
    } finally {
      store.close();
    }
  });

  it('shows live state on a second desk at the same time', async () => {
    const second = await visit(browser, nurse.page.url().split('#')[0] ?? '');
    await second.page.getByLabel('Your name').fill('Rosa');
    await second.page.getByLabel('Passphrase').fill('salt harbour nine');
    await second.page.getByRole('button', { name: 'Sign in' }).click();
    await second.page.getByText('Safely stored: 34 new, 0 known. You can take it off.').waitFor();
    await second.page.context().close();
  });

  it('goes on after the daemon was started again, at the same address, once she has signed in', async () => {
    const { page } = nurse;
    await page.getByRole('link', { name: 'Meters' }).click();
    await page.getByRole('heading', { name: 'Meters', exact: true }).waitFor();
    const port = new URL(page.url()).port;
    await daemon.signal('SIGTERM');
    await page.getByText('tallydock does not answer.', { exact: false }).first().waitFor({ timeout: 20_000 });
    const config = readFileSync(join(program.data, 'config.toml'), 'utf8');
    writeFileSync(join(program.data, 'config.toml'), config.replace('port = 0', `port = ${port}`));
    daemon = await runDaemon(program);
    await page.getByLabel('Your name').waitFor({ timeout: 30_000 });
    await page.getByLabel('Your name').fill('Rosa');
    await page.getByLabel('Passphrase').fill('salt harbour nine');
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('heading', { name: 'Meters', exact: true }).waitFor();
    await page.getByRole('link', { name: 'PA-H017' }).waitFor();
  });

  it('went without an error on the page and without asking anything outside this computer', () => {
    expect(nurse.errors).toEqual([]);
    expect(nurse.outside).toEqual([]);
  });
});
