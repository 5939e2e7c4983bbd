/**
 * Which floor may import from which. From the ground: core; then wire, memory, clock, clinic, store, which do not
 * know each other; then record; then intake, outlets and reports; then virtual and dock; then desk; cli on top. The page in
 * src/desk/page runs in a browser; tests/desk/page/page-is-apart.test.ts looks after it, since the parser here reads no JSX.
 */
const rooms = ['wire', 'memory', 'clock', 'clinic', 'store'];
const above = { core: [...rooms, 'record', 'intake', 'outlets', 'reports', 'virtual', 'dock', 'desk', 'cli'] };
for (const room of rooms) above[room] = [...rooms.filter((r) => r !== room), 'record', 'intake', 'outlets', 'reports', 'virtual', 'dock', 'desk', 'cli'];
above.record = ['wire', 'memory', 'clock', 'intake', 'outlets', 'reports', 'virtual', 'dock', 'desk', 'cli'];
for (const room of ['intake', 'outlets', 'reports']) above[room] = ['intake', 'outlets', 'reports'].filter((r) => r !== room).concat(['virtual', 'dock', 'desk', 'cli']);
above.virtual = ['dock', 'desk', 'cli'];
above.dock = ['virtual', 'desk', 'cli'];
above.desk = ['cli'];

module.exports = {
  forbidden: [
    ...Object.entries(above).map(([from, not]) => ({
      name: `${from}-stays-below`,
      severity: 'error',
      from: { path: `^src/${from}/` },
      to: { path: `^src/(${not.join('|')})/` },
    })),
    { name: 'no-circles', severity: 'error', from: {}, to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } } },
    {
      name: 'pure-rooms-do-no-io',
      severity: 'error',
      from: { path: '^src/(core|memory|clock|clinic|wire/line|wire/astm)/' },
      to: { path: '^(node:)?(fs|net|http|child_process|os|dgram|tls|worker_threads)|better-sqlite3|serialport|pino' },
    },
    { name: 'nothing-takes-the-page', severity: 'error', from: { path: '^src/', pathNot: '^src/desk/page/' }, to: { path: '^src/desk/page/' } },
    {
      name: 'one-place-opens-sqlite',
      severity: 'error',
      from: { path: '^src/', pathNot: '^src/store/sqlite\\.ts$' },
      to: { path: 'better-sqlite3' },
    },
    { name: 'no-tests-in-src', severity: 'error', from: { path: '^src/' }, to: { path: '^tests/' } },
  ],
  options: { doNotFollow: { path: 'node_modules' }, exclude: { path: '^src/desk/page/' }, parser: 'swc', tsPreCompilationDeps: true },
};
