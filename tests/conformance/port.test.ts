/** The kit on a real port, with the real command at its other end, and its own command line. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createServer } from 'node:net';
import { describe, expect, it } from 'vitest';
import { examine } from '../../scripts/conformance/examine.ts';
import { TIMING } from '../../scripts/conformance/timing.ts';
import { portWire } from '../../scripts/conformance/wire.ts';
import { LINK_DEFAULTS } from '../../src/wire/transport/link.ts';
import { runVirtualMeter } from '../support/virtual-meter.ts';

/** Silence is cut short, and on a busy machine an answer may take its time. */
const HASTY = { ...TIMING, silenceMs: 100, hushMs: 50, tickMs: 1100, answerMs: 10_000, patienceMs: 10_000 };

/** All chapters; of those that watch the clock for seconds one clause is enough. */
const MOST = ['L1', 'L2.1', 'L2.4', 'L2.5', 'L3', 'L4', 'L5', 'L6', 'L7.1', 'L7.2', 'L8'];

/** Runs the kit as a program; what it said and its exit code. */
async function runKit(...args: string[]) {
  const child = spawn(process.execPath, ['--import', 'tsx', 'scripts/conformance/main.ts', ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let out = '';
  let err = '';
  child.stdout.on('data', (data) => {
    out += data;
  });
  child.stderr.on('data', (data) => {
    err += data;
  });
  await once(child, 'close');
  return { code: child.exitCode, out, err };
}

describe('the conformance kit on a port', () => {
  it('finds nothing wrong with the virtual meter on a pseudo-terminal', async () => {
    const meter = await runVirtualMeter('--pty', '--run-numbers', '--loss-count', '--held', '8');
    try {
      const wire = portWire(meter.where, LINK_DEFAULTS);
      const { clauses } = await examine(wire, { timing: HASTY, wallNow: Date.now, sends: 'by itself', only: MOST });
      expect(clauses.filter(({ verdict }) => verdict.kind === 'fails')).toEqual([]);
      expect(clauses.filter(({ verdict }) => verdict.kind === 'passes').length).toBeGreaterThan(50);
    } finally {
      await meter.stop();
    }
  });
});

describe('npm run conformance', () => {
  it('prints a verdict a clause over TCP and ends with 0 where none fails', async () => {
    const meter = await runVirtualMeter('--tcp', '0', '--held', '8');
    try {
      const { code, out, err } = await runKit(meter.where, '--only', 'L1,L3.4');
      expect(err).toBe('');
      expect(out).toMatch(/^passes {10}L1\.1 {3}HELLO, repeated/);
      expect(out).toMatch(/^not applicable {2}L1\.4 .*\n {23}the memory is no ring$/m);
      expect(out.trimEnd()).toMatch(/\n\nGM-10 SN00042, TLP\/1: 5 pass, 0 fail, 2 not applicable\.$/);
      expect(code).toBe(0);
    } finally {
      await meter.stop();
    }
  });

  it('ends with 1 and a JSON document where something fails', async () => {
    const server = createServer((socket) => socket.on('data', () => socket.write('METER v=1 id=PA-1*0000\r\n')));
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    const address = server.address();
    const port = `tcp://127.0.0.1:${typeof address === 'object' ? address?.port : ''}`;
    try {
      const { code, out } = await runKit(port, '--only', 'L1.1,L1.2,L1.4,L8.1', '--json');
      const told = JSON.parse(out);
      expect(told).toMatchObject({ conformance: 1, port, protocol: 'tlp', passes: 1, fails: 2, notApplicable: 1 });
      expect(told.meter).toEqual({ id: 'PA-1' });
      expect(told.clauses[3]).toEqual({
        id: 'L8.1',
        section: 'Line',
        promise: expect.any(String),
        verdict: 'fails',
        expected: 'the CRC of the body',
        came: expect.stringContaining('METER v=1 id=PA-1*0000'),
      });
      expect(code).toBe(1);
    } finally {
      server.close();
    }
  });

  it.each([
    ['no port', [], 2, /missing required argument 'PORT'/],
    ['a speed that is none', ['COM3', '--baud', '300'], 2, /--baud/],
    ['a clause that is none', ['/dev/no-such-port', '--only', 'L1,L99'], 2, /no clause L99.*\[CALL_WRONG\]/],
    ['a port that is not there', ['/dev/no-such-port'], 1, /no-such-port.*\[PORT_MISSING\]/],
  ])('says what is wrong with %s', async (_, args, code, said) => {
    const ran = await runKit(...args);
    expect(ran.err).toMatch(said);
    expect(ran.out).toBe('');
    expect(ran.code).toBe(code);
  });
});
