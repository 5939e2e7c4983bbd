/** The `[desk]` table of the config file: the page in the browser. */
import { isAbsolute } from 'node:path';
import { z } from 'zod';

const FullPath = z.string().refine(isAbsolute, 'must be a full path, such as one that starts at the root');

/** Addresses at which only this PC can ask. */
export const isLoopback = (address: string): boolean =>
  address === 'localhost' || address === '::1' || /^127(\.\d{1,3}){3}$/.test(address);

/** The table, read strictly, with every default filled in. */
export const DeskSchema = z
  .strictObject({
    /** False: no page is served. */
    enabled: z.boolean().default(true),
    /** Name of the clinic, at the top of the page. */
    clinic: z
      .string()
      .regex(/^[^\p{Cc}]{1,80}$/u, 'must be 1 to 80 characters')
      .optional(),
    port: z.int().min(0).max(65_535).default(4780),
    /** Where it listens. */
    address: z.string().min(1).default('127.0.0.1'),
    /** Names by which a browser may ask for it, besides those of this PC itself. */
    'host-names': z.array(z.string().min(1), 'must be a list of names').default([]),
    /** The page locks itself after so many minutes without a key or a click. */
    'idle-minutes': z.int().min(1).max(240).default(10),
    /** Files of a certificate and its key, PEM: then the page is served over TLS. */
    certificate: FullPath.optional(),
    key: FullPath.optional(),
  })
  .superRefine((desk, check) => {
    const wrong = (key: string, message: string) => check.addIssue({ code: 'custom', path: [key], message });
    if ((desk.certificate === undefined) !== (desk.key === undefined))
      wrong(desk.key === undefined ? 'certificate' : 'key', 'needs both certificate and key');
    if (!isLoopback(desk.address) && desk.certificate === undefined)
      wrong('address', 'is open to other PCs and needs certificate and key: what is shown are patients’ results');
  })
  .transform((desk) => ({
    enabled: desk.enabled,
    ...(desk.clinic === undefined ? {} : { clinic: desk.clinic }),
    port: desk.port,
    address: desk.address,
    hostNames: desk['host-names'],
    idleMinutes: desk['idle-minutes'],
    ...(desk.certificate === undefined || desk.key === undefined
      ? {}
      : { tls: { certificate: desk.certificate, key: desk.key } }),
  }));

/** How the desk is served. */
export type DeskConfig = z.infer<typeof DeskSchema>;
