/** Settings of the two HL7 outlets, as they stand in a config, and what they are handed besides. */
import { z } from 'zod';
import type { Instant } from '../../core/instant.ts';

const Name = z.string().min(1).max(180);

const message = {
  /** ORU^R01, or ORU^R30 for receivers that make the order themselves. Control tests always go as R01. */
  message: z.enum(['R01', 'R30'], 'must be R01 or R30').default('R01'),
  /** MSH-5, the receiving program. */
  'receiving-application': Name.optional(),
  /** MSH-6, the receiving place. */
  'receiving-facility': Name.optional(),
  /** PID-3.4, who gives out the clinic's patient numbers; else the name of this site. */
  'patient-authority': Name.optional(),
  /** MSH-11: what the receiver shall do with it. */
  purpose: z
    .enum(['production', 'training', 'debugging'], 'must be production, training or debugging')
    .default('production'),
};

/** What every message of an outlet is made by. */
export const Hl7MessageSettings = z.strictObject(message);
export type Hl7MessageSettings = z.infer<typeof Hl7MessageSettings>;

/** One message a file, in a folder. */
export const Hl7FileSettings = z.strictObject({ ...message, folder: z.string().min(1) });
export type Hl7FileSettings = z.infer<typeof Hl7FileSettings>;

/** Messages over TCP, framed by MLLP. */
export const Hl7MllpSettings = z.strictObject({
  ...message,
  host: z.string().min(1),
  port: z.int().min(1).max(65_535),
  /** True: TLS, and the receiver's certificate must be good. */
  tls: z.boolean().default(false),
  /** PEM file of the authority that signed the receiver's certificate, where the machine does not know it. */
  'ca-file': z.string().min(1).optional(),
  /** Longest wait for a connection and for each acknowledgement, seconds. */
  timeout: z.int().min(1).max(600).default(30),
  /** Pause before a message that was rejected for reasons of the receiver's own is tried again, seconds. */
  'retry-pause': z.number().min(0).max(60).default(5),
});
export type Hl7MllpSettings = z.infer<typeof Hl7MllpSettings>;

/** What both outlets are handed. `zone` is the IANA zone of the messages' own times. */
export interface Hl7Deps {
  readonly site: string;
  readonly zone: string;
  readonly now: () => Instant;
}
