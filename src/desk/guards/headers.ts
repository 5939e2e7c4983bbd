/** What every answer forbids the browser: scripts and styles from elsewhere, being framed, being kept or guessed at. */
import type { MiddlewareHandler } from 'hono';
import type { DeskEnv } from '../env.ts';

const CSP = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data:",
  "connect-src 'self'",
  "form-action 'self'",
  "frame-ancestors 'none'",
  "base-uri 'none'",
].join('; ');

/** Sheets for print bring their own style and no script at all. */
const CSP_PRINT =
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

/** Sets them. */
export function forbiddingHeaders(): MiddlewareHandler<DeskEnv> {
  return async (c, next) => {
    await next();
    const { headers } = c.res;
    headers.set('content-security-policy', c.req.path.startsWith('/print/') ? CSP_PRINT : CSP);
    headers.set('x-content-type-options', 'nosniff');
    headers.set('referrer-policy', 'no-referrer');
    headers.set('cross-origin-opener-policy', 'same-origin');
    headers.set('cross-origin-resource-policy', 'same-origin');
    headers.set('permissions-policy', 'camera=(), geolocation=(), microphone=(), payment=(), serial=(), usb=()');
    if (!headers.has('cache-control')) headers.set('cache-control', 'no-store');
  };
}
