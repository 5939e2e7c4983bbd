import { describe, expect, it } from 'vitest';
import { tempStore } from './temp-store.ts';

describe('the schema', () => {
  it('explains every column beside it, and every table is strict', () => {
    const store = tempStore();
    const tables = store.db
      .statement<{ name: string; sql: string; strict: number }>(
        `SELECT l.name, s.sql, l.strict FROM pragma_table_list l JOIN sqlite_schema s USING (name)
          WHERE l.type = 'table' AND l.name NOT LIKE 'sqlite_%' AND l.schema = 'main'`,
      )
      .all();
    expect(tables.length).toBeGreaterThan(10);
    for (const { name, sql, strict } of tables) {
      expect([name, strict]).toEqual([name, 1]);
      for (const { column } of store.db
        .statement<{ column: string }>(`SELECT name AS column FROM pragma_table_info('${name}')`)
        .all())
        expect(`${name}: ${sql}`).toMatch(new RegExp(`\\n  ${column} .*-- \\S+`));
    }
  });
});
