/** A deadline for one operation on a port: whatever hangs becomes a fault. */
import { Fault } from '../../core/fault.ts';

/**
 * Settles like `work`, or rejects with PORT_FAILED once `afterMs` have passed. `work` itself is not stopped: whoever
 * calls this says what becomes of a late success.
 */
export async function withDeadline<T>(work: Promise<T>, afterMs: number, what: string): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(
      () =>
        reject(
          new Fault(
            'PORT_FAILED',
            `${what} took longer than ${afterMs / 1000} s`,
            'Unplug the cable or device server, plug it in again, and try once more.',
          ),
        ),
      afterMs,
    );
  });
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}
