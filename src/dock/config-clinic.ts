/** The `[clinic]` table of the config file: how readings are judged here, where it differs from the defaults. */
import { z } from 'zod';
import { DEFAULT_POLICY, type Policy } from '../clinic/rules/policy.ts';

const Range = z
  .tuple([z.number().positive(), z.number().positive()], 'must be two numbers: [low, high]')
  .refine(([low, high]) => low < high, 'must be two numbers, the lower one first');

const Ranges = z.record(z.string().regex(/^[A-Z0-9]{1,12}$/, 'must be named by an analyte such as INR'), Range);

type Limits = Readonly<Record<string, { readonly low: number; readonly high: number }>>;

const limitsOf = (ranges: z.infer<typeof Ranges>): Limits =>
  Object.fromEntries(Object.entries(ranges).map(([analyte, [low, high]]) => [analyte, { low, high }]));

/** The table, read strictly, as a policy with every default filled in. */
export const ClinicSchema = z
  .strictObject({
    /** Which check digit patient ids have. */
    'id-check': z
      .enum(['none', 'luhn', 'mod11-10', 'mod97-10'], 'must be none, luhn, mod11-10 or mod97-10')
      .default(DEFAULT_POLICY.idCheck),
    /** An appointment proposes a person for readings so long before or after it. */
    'appointment-minutes': z.int().min(1).max(1440).default(DEFAULT_POLICY.appointmentMinutes),
    /** A reading whose time is not known within so many hours waits. */
    'widest-hours': z.number().positive().max(8760).default(DEFAULT_POLICY.holds.widestHours),
    /** Critical values: under the first, or at the second and above. */
    critical: Ranges.default({}),
    /** Values outside wait as implausible. */
    plausible: Ranges.default({}),
    /** A value waits that differs from the person's usual by more than this factor … */
    'far-ratio': z.number().min(1.1).max(10).default(DEFAULT_POLICY.holds.farFromCourse.ratio),
    /** … and by more than this much. */
    'far-difference': z.number().positive().max(10).default(DEFAULT_POLICY.holds.farFromCourse.difference),
  })
  .transform(
    (clinic): Policy => ({
      ...DEFAULT_POLICY,
      idCheck: clinic['id-check'],
      appointmentMinutes: clinic['appointment-minutes'],
      critical: { ...DEFAULT_POLICY.critical, ...limitsOf(clinic.critical) },
      holds: {
        ...DEFAULT_POLICY.holds,
        widestHours: clinic['widest-hours'],
        plausible: { ...DEFAULT_POLICY.holds.plausible, ...limitsOf(clinic.plausible) },
        farFromCourse: {
          ...DEFAULT_POLICY.holds.farFromCourse,
          ratio: clinic['far-ratio'],
          difference: clinic['far-difference'],
        },
      },
    }),
  );
