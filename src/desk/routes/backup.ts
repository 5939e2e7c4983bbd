/** A backup now, and those there are. */
import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Hono } from 'hono';
import { backUpApart } from '../../dock/guards/backup-apart.ts';
import { backupsAmong } from '../../store/backup-names.ts';
import type { BackupRow } from '../api/house.ts';
import type { DeskEnv } from '../env.ts';
import { may } from '../guards/may.ts';
import type { DeskTools } from '../tools.ts';

/** So many are kept where the settings do not say. */
const KEEP = 14;

/** The routes. */
export function backupRoutes({ store, folder, config }: DeskTools): Hono<DeskEnv> {
  const place = (): string => config().backup?.folder ?? join(folder, 'backups');
  const app = new Hono<DeskEnv>();
  app.get('/api/backups', may('look'), (c) => {
    const from = place();
    const rows = existsSync(from) ? backupsAmong(readdirSync(from)) : [];
    return c.json(
      rows.map(({ name, at }): BackupRow => ({ file: join(from, name), at, bytes: statSync(join(from, name)).size })),
    );
  });
  app.post('/api/backup', may('work'), async (c) => {
    const { by, now } = c.get('record');
    const passphraseFile = config().backup?.passphraseFile;
    store.audit.append({ at: now, actor: by, action: 'backup-asked', subject: 'store', detail: {} });
    await backUpApart({
      program: [...process.execArgv, process.argv[1] ?? ''],
      dataDir: folder,
      folder: place(),
      keep: config().backup?.keep ?? KEEP,
      ...(passphraseFile === undefined ? {} : { passphraseFile }),
    });
    return c.json({});
  });
  return app;
}
