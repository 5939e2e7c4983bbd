/**
 * Meter profiles: what the gateway must know of a meter model, as data. JSON text in, a checked `MeterProfile` out.
 * Knows nothing of files or folders; the fields are explained in protocols/meters/README.md.
 */
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { parseMeterTime } from '../core/meter-time.ts';

/** Profiles that always exist. Their files lie in protocols/meters/. */
export const BUILT_IN = ['tlp-generic', 'astm-generic-newest', 'astm-generic-oldest'] as const;

const Hex4 = z
  .string()
  .regex(/^[0-9A-Fa-f]{4}$/, 'must be 4 hexadecimal digits')
  .transform((text) => text.toLowerCase());

const Serial = z.strictObject({
  baud: z.int().min(1200).max(115_200).default(9600),
  dataBits: z.union([z.literal(7), z.literal(8)], 'must be 7 or 8').default(8),
  parity: z.enum(['none', 'even', 'odd']).default('none'),
  stopBits: z.union([z.literal(1), z.literal(2)], 'must be 1 or 2').default(1),
});

const PATH = '(?:[HPORC]\\.[1-9][0-9]?(?:\\.[1-9][0-9]?)?|M\\.[A-Za-z0-9_-]+\\.[1-9][0-9]?)';
const ONE_PATH = new RegExp(`^${PATH}$`);
const PATH_IS = new RegExp(`^${PATH}=.+$`);

/** Where a fact stands: one field path or several, of which the first that is not empty counts. */
const paths = (...standard: string[]) =>
  z
    .union([z.string(), z.array(z.string()).min(1)], 'must be a field path or a list of field paths')
    .transform((given) => (typeof given === 'string' ? [given] : given))
    .refine(
      (given) => given.every((path) => ONE_PATH.test(path)),
      'must be a field path such as R.4, H.5.2 or M.strip.2',
    )
    .default(standard);

const Fields = z.strictObject({
  model: paths('H.5.1'),
  meterId: paths('H.5.2'),
  firmware: paths('H.5.3'),
  clock: paths('H.14'),
  patientId: paths('P.3', 'P.4'),
  slot: paths('O.4.1'),
  runNumber: paths('O.4.2'),
  control: z.string().regex(PATH_IS, 'must be a field path and its text, such as O.12=Q').default('O.12=Q'),
  analyte: paths('R.3.4'),
  value: paths('R.4'),
  unit: paths('R.5'),
  flags: paths('R.7'),
  status: paths('R.9'),
  operator: paths('R.11.1'),
  time: paths('R.13', 'R.12'),
  lot: paths('M.strip.2'),
  lotExpiry: paths('M.strip.3'),
});

const Stamp = z
  .string()
  .refine((text) => parseMeterTime(text).ok, 'must be a time that exists, such as 2000-01-01T00:00');

/** The schema of a profile file. Strict: an unknown field is an error. */
export const MeterProfileSchema = z
  .strictObject({
    name: z.string().regex(/^[a-z0-9][a-z0-9.-]{0,63}$/, 'must be lower-case letters, digits, hyphens and dots'),
    protocol: z.enum(['line', 'astm']),
    description: z.string().default(''),
    serial: Serial.prefault({}),
    /** USB ids by which a port is recognised. */
    usb: z.array(z.strictObject({ vendorId: Hex4, productId: Hex4 })).default([]),
    /** E1394 only: the gateway asks for the memory instead of waiting for the meter. */
    query: z.boolean().default(false),
    /** True where the protocol and the meter let the gateway set the clock. Never over E1394. */
    clockSettable: z.boolean().optional(),
    /** E1394 only: where each fact stands. */
    fields: Fields.prefault({}),
    /** The meter's name of an analyte to ours (INR, PT, GLU ...). */
    analytes: z
      .record(z.string().min(1), z.string().regex(/^[A-Z0-9]{1,16}$/, 'must be a short name such as INR'))
      .default({}),
    /** The meter's unit to UCUM. */
    units: z.record(z.string(), z.string()).default({}),
    memory: z
      .strictObject({
        capacity: z.int().min(1).max(100_000).optional(),
        order: z.enum(['newest', 'oldest', 'ring']).optional(),
      })
      .prefault({}),
    /** What the clock shows after a power loss: 1 January 00:00 of any year, or one of these stamps. */
    resetStamps: z
      .union([z.literal('new-year'), z.array(Stamp).min(1)], 'must be "new-year" or a list of times')
      .default('new-year'),
    /** The coarsest step of the meter's stamps, where they look finer than they are. */
    resolution: z.enum(['seconds', 'minutes', 'days']).optional(),
    /** The greatest clock drift to assume, in millionths. */
    driftPpm: z.number().positive().max(10_000).default(100),
    /** True where the target range set in the meter goes with date and time when the batteries run out. */
    targetsLostWithPower: z.boolean().default(true),
  })
  .superRefine((profile, check) => {
    const wrong = (path: string[], message: string) => check.addIssue({ code: 'custom', path, message });
    if (profile.protocol === 'astm') {
      if (profile.memory.order === undefined || profile.memory.order === 'ring')
        wrong(['memory', 'order'], 'must be newest or oldest: the order in which the meter sends');
      if (profile.clockSettable === true) wrong(['clockSettable'], 'must be false: E1394 has no means to set a clock');
    } else if (profile.query) wrong(['query'], 'belongs to protocol astm only');
  })
  .transform((profile) => ({ ...profile, clockSettable: profile.clockSettable ?? profile.protocol === 'line' }));

/** A checked meter profile; every default is filled in. */
export type MeterProfile = z.infer<typeof MeterProfileSchema>;

/** The profile in a file's text. Throws PROFILE_INVALID, in one line that names the file and the field. */
export function parseProfile(jsonText: string, fileName: string): MeterProfile {
  const invalid = (problem: string, cause?: unknown): Fault =>
    new Fault(
      'PROFILE_INVALID',
      // The names of fields may hold anything, line ends as well.
      `${fileName}: ${problem.replace(/\s+/g, ' ')}`,
      'Correct this file; protocols/meters/README.md explains every field.',
      { cause },
    );
  let json: unknown;
  try {
    json = JSON.parse(jsonText);
  } catch (cause) {
    const reason = cause instanceof Error ? cause.message : 'unreadable';
    throw invalid(`this is not JSON (${reason})`, cause);
  }
  const result = MeterProfileSchema.safeParse(json);
  if (result.success) return result.data;
  const [issue] = result.error.issues;
  if (!issue) throw invalid('not a profile');
  if (issue.code === 'unrecognized_keys') {
    const place = [...issue.path, issue.keys[0]].join('.');
    throw invalid(`field "${place}" is unknown`);
  }
  const place = issue.path.join('.');
  const said = issue.message.replace(/^Invalid input: /, '');
  throw invalid(place === '' ? `not a profile: ${said}` : `field "${place}": ${said}`);
}
