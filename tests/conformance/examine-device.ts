/** Examines a simulated meter, and puts what came of it into a form for tests. */
import type { Sends } from '../../scripts/conformance/astm/host.ts';
import { examine } from '../../scripts/conformance/examine.ts';
import type { Examined, ProtocolName } from '../../scripts/conformance/report.ts';
import { TIMING } from '../../scripts/conformance/timing.ts';
import { TEST_NOW } from '../support/meters.ts';
import type { Device } from './device.ts';
import { simulatedWire } from './simulated-wire.ts';

/** Examines a device with the times of the documents. Without a protocol it must be recognised. */
export const examineDevice = (device: Device, protocol?: ProtocolName, sends: Sends = 'by itself'): Promise<Examined> =>
  examine(simulatedWire(device, TEST_NOW), {
    ...(protocol ? { protocol } : {}),
    sends,
    timing: TIMING,
    wallNow: () => TEST_NOW,
  });

/** The clauses that ended so. */
export const ended = ({ clauses }: Examined, kind: string): string[] =>
  clauses.filter(({ verdict }) => verdict.kind === kind).map(({ id }) => id);

/** The clauses that fail, with what was expected and what came. */
export const failures = ({ clauses }: Examined): string[] =>
  clauses.flatMap(({ id, verdict }) =>
    verdict.kind === 'fails' ? [`${id}: ${verdict.expected} / ${verdict.came}`] : [],
  );
