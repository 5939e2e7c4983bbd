/** The real server of the desk over a store, on a free port, beside a real daemon, as `tallydock serve` puts it together. */
import { outletsOf } from '../../src/cli/serve-forwarding.ts';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import type { Role } from '../../src/desk/api/state.ts';
import { openDesk } from '../../src/desk/listen.ts';
import { storedForm } from '../../src/desk/passphrase.ts';
import { reportsHere } from '../../src/desk/reports-here.ts';
import { parseConfig } from '../../src/dock/config.ts';
import { editConfig } from '../../src/dock/edit-config.ts';
import { realHost } from '../../src/dock/host.ts';
import { type ReloadableDaemon, reloadableDaemon } from '../../src/dock/reloadable-daemon.ts';
import { type DaemonLog, startDaemon } from '../../src/dock/start-daemon.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import type { Store } from '../../src/store/store.ts';

/** Waiting times of tenths of seconds: a test does not wait for a meter. */
const QUICK = {
  lookMs: 50,
  calmLookMs: 50,
  restMs: 50,
  restCeilingMs: 400,
  emptyCeilingMs: 200,
  helloMs: 300,
  listenMs: 500,
  takeInMs: 50,
};

/** The passphrase of everybody here. */
export const PASSPHRASE = 'harbour lamp oats';

export interface TestDeskOptions {
  /** Open; whoever opened it closes it. */
  readonly store: Store;
  /** The data folder; what the desk changes in `config.toml` is written there. */
  readonly folder: string;
  /** The text of the settings at the start. */
  readonly config?: string;
  readonly now?: () => Instant;
}

/** Deriving one takes most of a second: made once for each role. */
const forms = new Map<Role, Promise<string>>();
const formOf = (role: Role): Promise<string> => {
  const form = forms.get(role) ?? storedForm(PASSPHRASE, role);
  forms.set(role, form);
  return form;
};

/** An answer of the desk. */
export interface Answer {
  readonly status: number;
  readonly headers: Headers;
  /** Parsed where it is JSON, else its text. */
  readonly body: unknown;
}

/** Somebody at a browser. */
export interface AtDesk {
  /** Empty where nobody is signed in. */
  readonly cookie: string;
  /** Asks as the page does. */
  ask(method: 'GET' | 'POST' | 'PUT' | 'DELETE', path: string, body?: unknown): Promise<Answer>;
}

export interface TestDesk {
  /** Ends with a slash. */
  readonly url: string;
  readonly store: Store;
  readonly daemon: ReloadableDaemon;
  /** Messages of the log. */
  readonly logged: readonly string[];
  /** Signs in somebody of this role, who goes by the name of the role; entered into the store the first time. */
  as(role: Role): Promise<AtDesk>;
  readonly nobody: AtDesk;
  close(): Promise<void>;
}

/** Opens it; whoever opens it closes it. No port of this machine is looked at by its daemon. */
export async function testDesk(options: TestDeskOptions): Promise<TestDesk> {
  const { store, folder } = options;
  const now = options.now ?? (() => instant(Date.now()));
  const logged: string[] = [];
  const line = (_: object, message: string): void => void logged.push(message);
  const log: DaemonLog = { debug: () => {}, info: line, warn: line, error: line };
  const profiles = loadProfiles(folder);
  let config = parseConfig(options.config ?? 'zone = "Europe/Lisbon"\ndesk.port = 0\n', 'config.toml');
  const host = { ...realHost, listPorts: async () => [], portsMark: async () => undefined };
  const daemon = reloadableDaemon(
    (current) =>
      startDaemon({
        version: '0',
        pid: process.pid,
        dataDir: folder,
        config: current,
        store,
        profiles,
        actor: 'test: serve',
        host,
        log,
        pace: QUICK,
        outlets: () => outletsOf(store),
      }),
    config,
  );
  const desk = await openDesk({
    folder,
    version: '0',
    store,
    profiles,
    reports: reportsHere(store, profiles),
    daemon,
    config: () => config,
    editConfig(changes) {
      config = editConfig(folder, changes);
    },
    reloadDocks: (besides) => daemon.reload(besides ? { ...config, docks: [...config.docks, besides] } : config),
    policy: () => config.clinic ?? DEFAULT_POLICY,
    zone: () => config.zone ?? 'Europe/Lisbon',
    now,
    log,
  });
  const browser = (cookie: string): AtDesk => ({
    cookie,
    async ask(method, path, body) {
      const answer = await fetch(new URL(path, desk.url), {
        method,
        headers: {
          'x-tallydock': '1',
          ...(cookie === '' ? {} : { cookie }),
          ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      });
      const text = await answer.text();
      const isJson = answer.headers.get('content-type')?.startsWith('application/json') ?? false;
      return { status: answer.status, headers: answer.headers, body: isJson ? JSON.parse(text) : text };
    },
  });
  const nobody = browser('');
  return {
    url: desk.url,
    store,
    daemon,
    logged,
    nobody,
    async as(role) {
      if (!store.operators.find(role))
        store.operators.add({ name: role, role, passphrase: await formOf(role), addedAt: now() });
      const answer = await nobody.ask('POST', '/api/sign-in', { name: role, passphrase: PASSPHRASE });
      return browser(answer.headers.getSetCookie()[0]?.split(';')[0] ?? '');
    },
    async close() {
      await desk.close();
      await daemon.stop('now');
    },
  };
}
