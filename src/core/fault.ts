/**
 * The one error type of the program. A fault has a stable code to branch on, a plain sentence (what and where) and
 * a next step for the person. Bad input is a value where it can be; a Fault is thrown only where work must stop.
 */

/** Stable names of everything that can stop a piece of work. README explains each one. */
export const FAULT_CODES = [
  'CALL_WRONG', // the command line, or an option's value, is wrong
  'FILE_MISSING',
  'FILE_UNREADABLE',
  'FILE_UNWRITABLE',
  'CAPTURE_BROKEN',
  'PROFILE_UNKNOWN',
  'PROFILE_INVALID',
  'CONFIG_INVALID',
  'ZONE_UNKNOWN',
  'PORT_MISSING',
  'PORT_BUSY',
  'PORT_DENIED',
  'PORT_NOT_SERIAL',
  'PORT_LOST',
  'PORT_FAILED',
  'METER_SILENT', // nothing that makes sense came from the port
  'METER_REFUSED', // the meter answered with an error, or took the question for its results and sent nothing
  'METER_GARBLED', // bytes came, but none of them made a valid line or frame
  'METER_ENDLESS', // the meter does not stop sending
  'DOWNLOAD_CUT', // a download ended before its proof of completeness
  'STORE_MISSING',
  'STORE_NEWER',
  'STORE_BUSY',
  'STORE_FULL',
  'STORE_DENIED',
  'STORE_DAMAGED',
  'STORE_EXISTS',
  'BACKUP_DAMAGED',
  'PASSPHRASE_WRONG',
  'CHECK_FAILED',
  'CLOCK_STEPPED', // the PC's own clock was changed while a meter was read
  'DAEMON_RUNNING', // another daemon looks after this store already
  'DAEMON_MISSING',
  'DAEMON_FAILED', // it runs, but did not answer as it should
  'OUTLET_DOWN', // an outlet cannot be reached or does not answer
  'OUTLET_INVALID', // what an outlet was set up with is wrong
  'OUTLET_UNKNOWN',
  'PATIENT_UNKNOWN',
  'METER_UNKNOWN',
  'NOT_POSSIBLE', // what is asked does not go with what the store holds, such as a meter lent twice
  'IMPORT_WRONG', // a table given for import has rows that cannot be read
  'READING_UNKNOWN',
  'REBUILD_DIFFERS',
  'SIGN_IN_NEEDED', // the desk is locked
  'SIGN_IN_WRONG', // no operator of that name has this passphrase
  'SIGN_IN_RESTING', // too many wrong tries: the desk takes none for a while
  'ROLE_MISSING', // the operator's role does not go so far
  'OPERATOR_UNKNOWN',
  'REQUEST_WRONG', // the desk's page, or another program, asked for something that makes no sense
  'REQUEST_FOREIGN', // another site's page, or a forged address, asked the desk
  'PTY_UNAVAILABLE',
  'INTERNAL', // a broken promise of our own code
] as const;
export type FaultCode = (typeof FAULT_CODES)[number];

const CALL_CODES: ReadonlySet<FaultCode> = new Set<FaultCode>([
  'CALL_WRONG',
  'FILE_MISSING',
  'FILE_UNREADABLE',
  'CAPTURE_BROKEN',
  'PROFILE_UNKNOWN',
  'PROFILE_INVALID',
  'CONFIG_INVALID',
  'ZONE_UNKNOWN',
  'BACKUP_DAMAGED',
  'PASSPHRASE_WRONG',
  'READING_UNKNOWN',
  'OUTLET_INVALID',
  'OUTLET_UNKNOWN',
  'PATIENT_UNKNOWN',
  'METER_UNKNOWN',
  'NOT_POSSIBLE',
  'IMPORT_WRONG',
  'OPERATOR_UNKNOWN',
  'REQUEST_WRONG',
]);

/** What stopped the work: code, sentence, and what to do next. `cause` keeps the original error. */
export class Fault extends Error {
  override readonly name = 'Fault';
  readonly code: FaultCode;
  /** What the person can do now, as one sentence. */
  readonly hint: string;

  constructor(code: FaultCode, message: string, hint: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
    this.hint = hint;
  }

  /** The process exit code of the contract: 2 the call or a file given is wrong, 3 done in part, 1 anything else. */
  get exitCode(): 1 | 2 | 3 {
    if (CALL_CODES.has(this.code)) return 2;
    return this.code === 'DOWNLOAD_CUT' ? 3 : 1;
  }
}

/** Any thrown thing as a Fault: Faults pass through, anything else becomes INTERNAL and keeps its cause. */
export function asFault(thrown: unknown): Fault {
  if (thrown instanceof Fault) return thrown;
  const message = thrown instanceof Error ? thrown.message : String(thrown);
  return new Fault('INTERNAL', `Unexpected: ${message}`, 'Please report this with the command that was run.', {
    cause: thrown,
  });
}

/** The outcome of reading something that came from outside: bad input is a value. */
export type Parsed<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly problem: string };

/** A good outcome. */
export const good = <T>(value: T): Parsed<T> => ({ ok: true, value });
/** A bad outcome with its reason in plain words. */
export const bad = (problem: string): Parsed<never> => ({ ok: false, problem });
