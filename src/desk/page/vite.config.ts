/** Builds the page into `dist/desk/page`: a few files with hashed names that the desk's server hands out. */
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

const here = fileURLToPath(new URL('.', import.meta.url));

export default defineConfig({
  root: here,
  base: './',
  publicDir: 'public',
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: process.env['DESK_PAGE_OUT'] ?? '../../../dist/desk/page',
    emptyOutDir: true,
    target: 'es2022',
    // Data URIs would need more than 'self' in the content security policy.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
});
