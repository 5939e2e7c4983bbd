/** Settings of the PostgreSQL outlet, and what it is handed besides. */
import { z } from 'zod';
import { SecretSource } from '../secret.ts';

const Identifier = z.string().regex(/^[a-z_][a-z0-9_]{0,40}$/, 'must be small letters, digits and _');

export const PostgresSettings = z
  .strictObject({
    host: z.string().min(1),
    port: z.int().min(1).max(65_535).default(5432),
    database: z.string().min(1),
    user: z.string().min(1),
    /** The password is in this environment variable … */
    'password-env': z.string().min(1).optional(),
    /** … or in the first line of this file; neither where the server asks for none. */
    'password-file': z.string().min(1).optional(),
    /** Where the tables are. */
    schema: Identifier.default('tallydock'),
    /** `verify`: encrypted, and the server must prove its name; `require`: encrypted only; `off`: only for the same PC. */
    tls: z.enum(['verify', 'require', 'off'], 'must be verify, require or off').default('verify'),
    /** Certificates of the authority that signed the server's, PEM; else those that the system trusts. */
    'tls-ca': z.string().min(1).optional(),
  })
  .refine((s) => s['password-env'] === undefined || s['password-file'] === undefined, {
    message: 'stands beside password-env: give one of the two',
    path: ['password-file'],
  });
export type PostgresSettings = z.infer<typeof PostgresSettings>;

/** Where the password is; nothing where there is none. */
export function passwordSource(settings: PostgresSettings): SecretSource | undefined {
  if (settings['password-env'] !== undefined) return SecretSource.parse({ env: settings['password-env'] });
  return settings['password-file'] === undefined ? undefined : { file: settings['password-file'] };
}

export interface PostgresDeps {
  /** Name of this site: one gateway among many. Every row carries it. */
  readonly site: string;
  /** A mark of this gateway's store: another gateway that takes the same site for its own is refused. */
  readonly gateway: string;
}
