/** A day at the desk, with the small year of Port Alder: holds by keyboard, a lend, paper, a second desk, both languages. */
import { spawnSync } from 'node:child_process';
import { appendFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { controlClient } from '../../src/dock/control/client.ts';
import { barriers, openBrowser, type Visit, visit } from '../support/browser.ts';
import { type RunningDaemon, runDaemon } from '../support/run-daemon.ts';
import { makeProgram, type Program } from '../support/run-program.ts';

const START = fileURLToPath(new URL('../../scripts/start.mjs', import.meta.url));
const PASSPHRASE = 'salt harbour nine';
const PAGES = [
  'dock',
  'waiting',
  'people',
  'people/PA-10014',
  'people/-appointments',
  'meters',
  'meters/PA-H001',
  'controls/tests',
  'controls/levels',
  'controls/comparison',
  'month',
  'settings',
];
const MARKUP = '<img src=x onerror="document.title=1"> & "Ines"';

describe('a day at the desk', { timeout: 120_000 }, () => {
  let browser: Browser;
  let program: Program;
  let daemon: RunningDaemon;
  let url: string;
  let nurse: Visit;

  /** Asks the desk as its page does, signed in as whoever is on the page. */
  const ask = (page: Page, method: string, path: string, body?: unknown): Promise<unknown> =>
    page.evaluate(
      async ([m, p, b]) => {
        const answer = await fetch(p, {
          method: m,
          headers: { 'x-tallydock': '1', 'content-type': 'application/json' },
          ...(b === undefined ? {} : { body: JSON.stringify(b) }),
        });
        return answer.json();
      },
      [method, path, body] as [string, string, unknown],
    );
  const signIn = async (page: Page, name: string): Promise<void> => {
    await page.getByLabel('Your name').fill(name);
    await page.getByLabel('Passphrase').fill(PASSPHRASE);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('button', { name: 'Lock' }).waitFor();
  };
  const open = async (page: Page, address: string): Promise<void> => {
    await page.goto(`${url}#/${address}`);
    await page.locator('main h1').first().waitFor({ state: 'attached' });
    await page.getByText('One moment …').waitFor({ state: 'detached' });
  };
  const countOf = async (page: Page): Promise<number> =>
    Number.parseInt(await page.locator('.waiting h2').innerText(), 10);

  beforeAll(async () => {
    browser = await openBrowser();
    program = makeProgram();
    const env = { ...process.env, PORT_ALDER_HOMES: '12', PORT_ALDER_DAYS: '90' };
    const made = spawnSync(process.execPath, [START, program.data], { env, encoding: 'utf8' });
    if (made.status !== 0) throw new Error(made.stderr);
    appendFileSync(join(program.data, 'config.toml'), '\n[desk]\nport = 0\n');
    daemon = await runDaemon(program);
    url = (await controlClient(program.data).status()).desk ?? '';
    nurse = await visit(browser, url);
    const first = {
      clinic: 'Port Alder anticoagulation clinic',
      zone: 'Europe/Lisbon',
      name: 'Rosa',
      passphrase: PASSPHRASE,
    };
    await ask(nurse.page, 'POST', '/api/first-run', first);
    await ask(nurse.page, 'POST', '/api/operators', { name: 'Tamsin', role: 'work', passphrase: PASSPHRASE });
    await ask(nurse.page, 'POST', '/api/operators', { name: 'Piran', role: 'look', passphrase: PASSPHRASE });
    await ask(nurse.page, 'POST', '/api/people', { id: 'PA-20001', name: MARKUP });
    await nurse.page.reload();
  }, 120_000);
  afterAll(async () => {
    await browser.close();
    await daemon.signal('SIGTERM');
    program.dispose();
  });

  it('confirms whose a reading is by keyboard only, and takes it back by keyboard', async () => {
    const { page } = nurse;
    await open(page, 'waiting');
    const before = await countOf(page);
    const card = page.locator('.card.asks');
    for (let i = 0; i < 40 && !/Someone else/.test(await card.innerText()); i++) await page.keyboard.press('j');
    const question = await card.locator('b').innerText();
    await page.keyboard.press('Enter');
    await page.getByText(/^\d+ readings? now of .+\./).waitFor();
    await page.getByText(question, { exact: true }).waitFor({ state: 'detached' });
    await page.keyboard.press('u');
    await page.getByText('Undone.').waitFor();
    await expect.poll(() => countOf(page)).toBe(before);
  });

  it('releases what it has looked at by keyboard only: R, then the first usual reason', async () => {
    const { page } = nurse;
    await open(page, 'waiting');
    const before = await countOf(page);
    const card = page.locator('.card.asks');
    for (let i = 0; i < 80 && !/Release/.test(await card.innerText()); i++) await page.keyboard.press('j');
    await page.keyboard.press('r');
    await page.getByRole('group', { name: 'Reason' }).waitFor();
    await page.keyboard.press('Enter');
    await page.getByText(/released\./).waitFor();
    await expect.poll(() => countOf(page)).toBeLessThan(before);
  });

  it('meets the next key with what the last one brought, before it is even drawn', async () => {
    const { page } = nurse;
    await open(page, 'waiting');
    await page.locator('.card.asks').waitFor();
    const focused = await page.evaluate(`(async () => {
      const press = async (key) => {
        dispatchEvent(new KeyboardEvent('keydown', { key, cancelable: true }));
        for (let i = 0; i < 20; i++) await undefined; // what follows an event at once, and no frame
      };
      const asks = () => document.querySelector('.card.asks')?.textContent ?? '';
      for (let i = 0; i < 80 && !/Someone else|Say whose/.test(asks()); i++) await press('j');
      await press('e');
      return document.activeElement?.role;
    })()`);
    expect(focused).toBe('combobox');
    await page.keyboard.press('Escape');
  });

  it('says whose a reading is by typing, arrows and Enter', async () => {
    const { page } = nurse;
    await open(page, 'waiting');
    const card = page.locator('.card.asks');
    for (let i = 0; i < 80 && !/Someone else|Say whose/.test(await card.innerText()); i++)
      await page.keyboard.press('j');
    await page.keyboard.press('e');
    await page.keyboard.type('PA-1003');
    await page.getByRole('option').first().waitFor();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Enter');
    await page.getByText(/now of .+\./).waitFor();
  });

  it('lends a meter and takes that back', async () => {
    const { page } = nurse;
    await open(page, 'people');
    await page.keyboard.press('/');
    await page.keyboard.type('PA-20001');
    await page.getByText('1 of 1').waitFor();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Lend a meter' }).click();
    await page.getByLabel('Number on the meter').fill('PA-C099');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByText('Meter PA-C099 is lent.').waitFor();
    await page.getByRole('link', { name: 'PA-C099', exact: true }).waitFor();
    await page.keyboard.press('u');
    await page.getByText('No meter is lent.').waitFor();
  });

  it('takes in the day’s list of appointments, showing first what becomes of each row', async () => {
    const { page } = nurse;
    await open(page, 'people/-appointments/2026-12-01');
    const file = (text: string) => ({ name: 'list.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
    await page
      .getByLabel('File of the list')
      .setInputFiles(file('time,patient_id\n2026-12-01 09:45,PA-10014\n2026-12-01 10:00,PA-99999\n'));
    await page.getByText('cannot be used').waitFor();
    expect(await page.getByRole('button', { name: 'Take it in' }).isVisible()).toBe(false);
    await page.getByLabel('File of the list').setInputFiles(file('time,patient_id\n2026-12-01 09:45,PA-10014\n'));
    await page.getByRole('button', { name: 'Take it in' }).click();
    await page.getByText('1 appointment taken in.').waitFor();
    await page.getByRole('cell', { name: 'K. Penrose' }).or(page.getByText('09:45')).first().waitFor();
    await page.getByRole('button', { name: 'Take off' }).click();
    await page.getByText('Nobody is expected on this day.').waitFor();
  });

  it('shows a name full of markup as the words that it is', async () => {
    const { page } = nurse;
    await open(page, 'people/PA-20001');
    await page.getByRole('heading', { name: MARKUP }).waitFor();
    await open(page, 'people');
    await page.getByRole('link', { name: MARKUP }).waitFor();
    expect(await page.title()).not.toBe('1');
  });

  it('prints the visit sheet on one page, A4 and Letter, with name and cautions, in both languages', async () => {
    const { page } = await visit(browser, url);
    await signIn(page, 'Tamsin');
    for (const [lang, caution] of [
      ['en', /not for dosing/i],
      ['de', /nicht zum Dosieren/i],
    ] as const) {
      await page.goto(`${url}print/visit/PA-H001?lang=${lang}`);
      expect(await page.locator('body').innerText()).toMatch(caution);
      for (const format of ['A4', 'Letter'] as const) {
        const pdf = (await page.pdf({ format })).toString('latin1');
        expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(1);
      }
    }
    await page.context().close();
  });

  it('refuses to try passphrases any more after too many wrong ones, and says for how long', async () => {
    const { page } = await visit(browser, url);
    for (let i = 0; i < 6; i++) {
      await page.getByLabel('Your name').fill('Piran');
      await page.getByLabel('Passphrase').fill('not this one');
      await page.getByRole('button', { name: 'Sign in' }).click();
      await page.getByRole('alert').waitFor();
    }
    await page.getByText(/You can try again in \d+ seconds?\./).waitFor();
    await page.context().close();
  });

  it('tells a second desk at once what the first has done, and lets whoever may only look do no more', async () => {
    const second = await visit(browser, url);
    await signIn(second.page, 'Tamsin');
    await open(second.page, 'people');
    await ask(nurse.page, 'POST', '/api/people', { id: 'PA-20002', name: 'A. Newcomer' });
    await second.page.getByRole('link', { name: 'A. Newcomer' }).waitFor();
    await second.page.getByRole('button', { name: 'Lock' }).click();
    await second.page.getByLabel('Your name').waitFor();
    expect(await second.page.locator('body').innerText()).not.toContain('Newcomer');
    await second.page.context().close();
  });

  it('has no barrier on any page, light and dark, and no error', async () => {
    for (const colorScheme of ['light', 'dark'] as const) {
      await nurse.page.emulateMedia({ colorScheme });
      for (const address of PAGES) {
        await open(nurse.page, address);
        expect(await barriers(nurse.page), `${address}, ${colorScheme}`).toEqual([]);
      }
    }
    expect(nurse.errors).toEqual([]);
    expect(nurse.outside).toEqual([]);
  });

  it('is wholly German once it is chosen: no English word is left on any page', async () => {
    const { page } = nurse;
    await page.getByLabel('Language').selectOption('Deutsch');
    for (const address of PAGES) {
      await page.goto(`${url}#/${address}`);
      await page.getByText('Einen Moment …').waitFor({ state: 'detached' });
      await page.locator('main h1').first().waitFor({ state: 'attached' });
      const text = await page.locator('body').innerText();
      const english = [...text.matchAll(/\b(the|of|and|is|are|with|not|since|between|waits?|test)\b/g)];
      expect(
        english.map((m) => text.slice(Math.max(0, m.index - 40), m.index + 40)),
        address,
      ).toEqual([]);
    }
    await page.getByLabel('Sprache').selectOption('English');
  });

  it('fits a narrow screen and 200 % zoom without scrolling to the side', async () => {
    for (const size of [
      { width: 360, height: 740 },
      { width: 683, height: 384 },
    ]) {
      await nurse.page.setViewportSize(size);
      for (const address of PAGES) {
        await open(nurse.page, address);
        const wide = await nurse.page.evaluate(
          'document.documentElement.scrollWidth - document.documentElement.clientWidth',
        );
        expect(wide, `${address} at ${size.width}`).toBeLessThanOrEqual(0);
      }
    }
  });
});
