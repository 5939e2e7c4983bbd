/** What a fault promises: a stable code, a sentence, a next step, and the exit code of the contract. */
import { describe, expect, it } from 'vitest';
import { asFault, FAULT_CODES, Fault } from '../../src/core/fault.ts';

describe('a fault', () => {
  it('carries its code, its sentence, its next step and what caused it', () => {
    const cause = new Error('No such file or directory');
    const fault = new Fault('PORT_MISSING', 'There is no port /dev/ttyUSB9', 'Plug in the cable', { cause });
    expect(fault).toMatchObject({
      code: 'PORT_MISSING',
      message: 'There is no port /dev/ttyUSB9',
      hint: 'Plug in the cable',
    });
    expect(fault.cause).toBe(cause);
    expect(fault.name).toBe('Fault');
  });

  it('has exit code 2 exactly where the call or a file given is wrong, and 3 where part of the work was done', () => {
    const codes = new Map(FAULT_CODES.map((code) => [code, new Fault(code, 'x', 'y').exitCode]));
    expect([...codes].filter(([, exit]) => exit === 2).map(([code]) => code)).toEqual([
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
      'OUTLET_INVALID',
      'OUTLET_UNKNOWN',
      'PATIENT_UNKNOWN',
      'METER_UNKNOWN',
      'NOT_POSSIBLE',
      'IMPORT_WRONG',
      'READING_UNKNOWN',
      'OPERATOR_UNKNOWN',
      'REQUEST_WRONG',
    ]);
    expect([...codes].filter(([, exit]) => exit === 3).map(([code]) => code)).toEqual(['DOWNLOAD_CUT']);
  });

  it('is passed through unchanged, and anything else that was thrown becomes INTERNAL with its cause', () => {
    const fault = new Fault('STORE_FULL', 'x', 'y');
    expect(asFault(fault)).toBe(fault);
    const broken = new TypeError('x is not a function');
    expect(asFault(broken)).toMatchObject({ code: 'INTERNAL', cause: broken, exitCode: 1 });
    expect(asFault('text').message).toContain('text');
  });
});
