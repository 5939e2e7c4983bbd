/** A real browser for tests of the desk: Debian's chromium, or the program that CHROMIUM names. */
import { execFileSync } from 'node:child_process';
import { AxeBuilder } from '@axe-core/playwright';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';

/** Without these it does not run as root, and calls home. */
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** Starts it; whoever starts it closes it. Throws where none is installed. */
export function openBrowser(): Promise<Browser> {
  const executablePath =
    process.env['CHROMIUM'] ?? execFileSync('sh', ['-c', 'command -v chromium'], { encoding: 'utf8' }).trim();
  return chromium.launch({ executablePath, headless: true, args: FLAGS });
}

/** A page of a browser of its own: no cookie, no other tab. What goes wrong on it is kept. */
export interface Visit {
  readonly page: Page;
  /** Errors of the page and of its console. */
  readonly errors: readonly string[];
  /** Addresses outside this computer that it asked for. */
  readonly outside: readonly string[];
}

/** Opens an address. */
export async function visit(browser: Browser, url: string, options: BrowserContextOptions = {}): Promise<Visit> {
  const context = await browser.newContext({
    locale: 'en-GB',
    timezoneId: 'Europe/Lisbon',
    viewport: { width: 1366, height: 768 },
    ...options,
  });
  const page = await context.newPage();
  const errors: string[] = [];
  const outside: string[] = [];
  page.on('pageerror', (error) => errors.push(error.message));
  page.on('console', (message) => {
    // A refusal is an answer of the desk, which the browser notes all the same; so it does where the daemon is away.
    const isAnswer = /Failed to load resource/.test(message.text());
    if (message.type() === 'error' && !isAnswer) errors.push(message.text());
  });
  page.on('request', (request) => {
    if (!request.url().startsWith(new URL(url).origin) && !request.url().startsWith('data:'))
      outside.push(request.url());
  });
  await page.goto(url);
  return { page, errors, outside };
}

/** What keeps somebody from using the page, by WCAG 2.1 A and AA. */
export async function barriers(page: Page): Promise<string[]> {
  const { violations } = await new AxeBuilder({ page })
    .withTags(['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa'])
    .analyze();
  return violations.map((v) => `${v.id} (${v.impact}): ${v.nodes.map((n) => n.html.slice(0, 120)).join(' | ')}`);
}
