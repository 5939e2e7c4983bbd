/** The stable code of a thrown thing: the system's (`ENOENT`), SQLite's (`SQLITE_FULL`) or a library's; empty where it has none. */
export function systemCode(thrown: unknown): string {
  const code = thrown instanceof Error && 'code' in thrown ? thrown.code : '';
  return typeof code === 'string' ? code : '';
}
