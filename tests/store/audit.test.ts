import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { openStore } from '../../src/store/open-store.ts';
import { openSqlite } from '../../src/store/sqlite.ts';
import type { Store } from '../../src/store/store.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { MADE_AT, tempFolder, tempStore } from './temp-store.ts';

const fill = (store: Store): void => {
  for (let i = 1; i <= 5; i++)
    store.audit.append({
      at: instant(i),
      actor: 'ana',
      action: 'taken-in',
      subject: `capture ${i}`,
      detail: { new: i },
    });
};

describe('the audit chain', () => {
  it('keeps what was written, in order, and finds itself intact', () => {
    const store = tempStore();
    fill(store);
    expect(store.audit.list().map((row) => [row.n, row.at, row.subject, row.detail])).toEqual(
      [1, 2, 3, 4, 5].map((i) => [i, i, `capture ${i}`, `{"new":${i}}`]),
    );
    expect(store.audit.check()).toEqual({ intact: true, rows: 5 });
  });

  it.each([
    'UPDATE audit SET actor = 1 WHERE n = 2',
    'DELETE FROM audit WHERE n = 5',
    'DELETE FROM audit',
    'INSERT OR REPLACE INTO audit SELECT 2, at, actor, action, subject, detail, before, sha256 FROM audit WHERE n = 1',
  ])('refuses %s', (sql) => {
    const store = tempStore();
    fill(store);
    expect(() => store.db.script(sql)).toThrow(/audit chain/);
    expect(store.audit.check()).toEqual({ intact: true, rows: 5 });
  });

  it.each([
    ["UPDATE audit SET actor = 'eve' WHERE n = 3", 3],
    ['UPDATE audit SET at = at + 1 WHERE n = 1', 1],
    [`UPDATE audit SET detail = '{"new":9}' WHERE n = 5`, 5],
    ['DELETE FROM audit WHERE n = 2', 2],
    ['DELETE FROM audit WHERE n = 1', 1],
    ['UPDATE audit SET n = 9 WHERE n = 5', 5],
  ])('notices %s done behind its back', (sql, brokenAt) => {
    const dir = tempFolder();
    const store = openStore({ dir, now: MADE_AT });
    fill(store);
    store.close();
    const raw = openSqlite(join(dir, STORE_FILE));
    raw.exec(`DROP TRIGGER audit_keeps_rows; DROP TRIGGER audit_keeps_length; ${sql}`);
    raw.close();
    expect(tempStore(dir).audit.check()).toEqual({ intact: false, brokenAt });
  });
});
