/**
 * What is said on the control channel. A client opens a connection, sends one request as one line of JSON, and reads
 * one answer a line until the daemon closes: one line for most, many for `watch`. Both sides check what they hear.
 */
import { z } from 'zod';
import { FAULT_CODES, Fault, type FaultCode } from '../../core/fault.ts';
import { type Instant, instant } from '../../core/instant.ts';
import type { DownloadId } from '../../core/reading.ts';

/** Longest request and longest answer in bytes; a longer line ends the connection. */
export const MAX_REQUEST_BYTES = 8_192;
export const MAX_ANSWER_BYTES = 4_194_304;

/** What a client may ask for. */
export const Request = z.discriminatedUnion('op', [
  z.strictObject({ op: z.literal('status') }),
  /** The status now and after every change, until the client leaves. */
  z.strictObject({ op: z.literal('watch') }),
  z.strictObject({ op: z.literal('figures') }),
  /** Does the daemon watch this port? */
  z.strictObject({ op: z.literal('owns'), port: z.string().min(1) }),
  /** Reads the meter at one of the daemon's ports now. */
  z.strictObject({
    op: z.literal('collect'),
    port: z.string().min(1),
    setClock: z.enum(['never', 'when-off', 'always']).exactOptional(),
  }),
  z.strictObject({ op: z.literal('stop'), how: z.enum(['clean', 'now']) }),
]);
export type Request = z.infer<typeof Request>;

const at = z.int().transform((ms): Instant => instant(ms));
const count = z.int().nonnegative();
const downloadId = z.string().transform((id) => id as DownloadId);
const code = z.enum(FAULT_CODES);
const FaultAnswer = z.object({ code, message: z.string(), hint: z.string() });
const TroubleAnswer = FaultAnswer.extend({ at });

const DockAnswer = z.object({
  name: z.string(),
  port: z.string().exactOptional(),
  phase: z.enum(['absent', 'opening', 'identifying', 'reading', 'storing', 'setting', 'docked', 'resting']),
  since: at,
  meter: z.object({ id: z.string(), model: z.string(), firmware: z.string().exactOptional() }).exactOptional(),
  read: count.exactOptional(),
  held: count.exactOptional(),
  lastDownload: downloadId.exactOptional(),
  lastDownloadAt: at.exactOptional(),
  trouble: TroubleAnswer.exactOptional(),
  nextTryAt: at.exactOptional(),
});
const OutletAnswer = z.object({
  name: z.string(),
  kind: z.string(),
  state: z.enum(['running', 'paused']),
  waiting: count,
  oldestAt: at.exactOptional(),
  setAside: count,
  sentAt: at.exactOptional(),
  trouble: TroubleAnswer.exactOptional(),
  nextTryAt: at.exactOptional(),
});
const StatusAnswer = z.object({
  version: z.string(),
  pid: z.int(),
  startedAt: at,
  dataDir: z.string(),
  desk: z.string().exactOptional(),
  docks: z.array(DockAnswer).readonly(),
  outlets: z.array(OutletAnswer).readonly(),
  warnings: z.array(z.string()).readonly(),
});
const FiguresAnswer = z.object({
  downloads: z.object({ complete: count, cut: count }),
  readings: z.object({ new: count, known: count }),
  bytes: count,
  damagedLines: count,
  troubles: z.array(z.tuple([code, count])).transform((pairs): ReadonlyMap<FaultCode, number> => new Map(pairs)),
  freeBytes: z.number().nonnegative().exactOptional(),
});

/** What the daemon answers. Fields that a newer daemon adds are passed over. */
export const Answer = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('status'), status: StatusAnswer }),
  z.object({ kind: z.literal('figures'), status: StatusAnswer, figures: FiguresAnswer }),
  z.object({ kind: z.literal('owns'), owns: z.boolean() }),
  /** The downloads are in the store; `fault` as in `Collected`. */
  z.object({ kind: z.literal('collected'), downloads: z.array(downloadId), fault: FaultAnswer.exactOptional() }),
  /** It has begun to stop; the connection closes when it has stopped. */
  z.object({ kind: z.literal('stopping'), pid: z.int() }),
  /** The request could not be served. */
  z.object({ kind: z.literal('fault'), fault: FaultAnswer }),
]);
export type Answer = z.infer<typeof Answer>;
/** An answer before it is written: the same without what reading changes. */
export type AnswerToWrite = z.input<typeof Answer>;

/** A fault as it travels. */
export const faultAnswer = (fault: Fault): z.infer<typeof FaultAnswer> => ({
  code: fault.code,
  message: fault.message,
  hint: fault.hint,
});

/** A fault that has travelled. */
export const faultOf = (answer: z.infer<typeof FaultAnswer>): Fault =>
  new Fault(answer.code, answer.message, answer.hint);
