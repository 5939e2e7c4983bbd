/** Hands out the page's own files. They are few and small: all are read when the first is asked for. */
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';
import { Hono } from 'hono';
import type { DeskEnv } from './env.ts';

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
};

interface PageFile {
  readonly type: string;
  readonly bytes: Uint8Array<ArrayBuffer>;
  /** The bytes in a coding; made when it is first asked for. */
  readonly coded: Map<Coding, Uint8Array<ArrayBuffer>>;
}

/** Codings that browsers take, the better one first. */
const CODINGS = {
  br: (bytes: Uint8Array) => brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 5 } }),
  gzip: (bytes: Uint8Array) => gzipSync(bytes),
};
type Coding = keyof typeof CODINGS;

function inCoding({ bytes, coded }: PageFile, coding: Coding): Uint8Array<ArrayBuffer> {
  const made = coded.get(coding) ?? new Uint8Array(CODINGS[coding](bytes));
  coded.set(coding, made);
  return made;
}

/** Where the built page lies, whether this runs as sources or built. */
const PLACES = ['./page', '../../dist/desk/page'].map((place) => fileURLToPath(new URL(place, import.meta.url)));

function readPage(): ReadonlyMap<string, PageFile> {
  const folder = PLACES.find((place) => existsSync(join(place, 'assets')));
  if (!folder) return new Map();
  const names = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((n) =>
    statSync(join(folder, n)).isFile(),
  );
  return new Map(
    names.flatMap((name) => {
      const type = TYPES[extname(name)];
      if (type === undefined) return [];
      const bytes = new Uint8Array(readFileSync(join(folder, name)));
      return [[`/${name.replaceAll('\\', '/')}`, { type, bytes, coded: new Map() }] as const];
    }),
  );
}

/** The routes of the page's files. Only what was built is handed out: an address is looked up, never opened. */
export function pageRoutes(): Hono<DeskEnv> {
  const app = new Hono<DeskEnv>();
  let files: ReadonlyMap<string, PageFile> | undefined;
  app.get('*', (c) => {
    files ??= readPage();
    const { path } = c.req;
    const file = files.get(path === '/' ? '/index.html' : path);
    if (!file) {
      const says = files.size === 0 ? 'The page was not built. Run: npm run build\n' : 'There is nothing here.\n';
      return c.text(says, 404);
    }
    const accepts = c.req.header('accept-encoding') ?? '';
    const coding = (['br', 'gzip'] as const).find((c) => new RegExp(`\\b${c}\\b`).test(accepts));
    c.header('content-type', file.type);
    c.header('vary', 'accept-encoding');
    if (coding) c.header('content-encoding', coding);
    // The builder names files in assets/ by their content.
    c.header('cache-control', path.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache');
    return c.body(coding ? inCoding(file, coding) : file.bytes);
  });
  return app;
}
