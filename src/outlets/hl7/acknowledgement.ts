/**
 * What a receiver's acknowledgement means. Pure: text in, verdict out. Takes ACK, ACK^R33 and ORA^R33 alike, since only
 * MSA and ERR count.
 *
 * Chapter 2 of the standard (from memory): AA taken; AE an error in the content, which sending again does not mend; AR
 * rejected, for a type or version that the receiver does not take, or for reasons of its own that may pass. The codes
 * of table 0357 in ERR tell the two apart: 206 and 207, or no code at all, may pass.
 */

/** `passing`: rejected for reasons of the receiver's own; worth another try. `other`: not about this message. */
export type AckVerdict =
  | { readonly kind: 'taken' }
  | { readonly kind: 'refused'; readonly reason: string }
  | { readonly kind: 'passing'; readonly reason: string }
  | { readonly kind: 'other' };

const PASSING = new Set(['206', '207']);
/** Longest reason that is kept, characters. */
const LONGEST_REASON = 500;

/** Judges one message from the receiver as the answer to the message with this control id. */
export function judgeAcknowledgement(text: string, controlId: string): AckVerdict {
  const segments = text.split(/[\r\n]+/);
  const header = segments.find((line) => line.startsWith('MSH'));
  const field = header?.charAt(3);
  const component = header?.charAt(4);
  if (!field || !component) return { kind: 'other' };
  const [, code = '', answered = '', words = ''] =
    segments.find((line) => line.startsWith(`MSA${field}`))?.split(field) ?? [];
  if (answered.trim() !== controlId) return { kind: 'other' };
  const errors = segments
    .filter((line) => line.startsWith(`ERR${field}`))
    .map((line) => errorIn(line, field, component));
  const said = [words, ...errors.map(({ words: of }) => of)].filter((part) => part !== '');
  const reason = [code, ...new Set(said)].join(': ').slice(0, LONGEST_REASON);
  switch (code) {
    case 'AA':
    case 'CA':
      return { kind: 'taken' };
    case 'AE':
    case 'CE':
      return { kind: 'refused', reason };
    case 'AR':
    case 'CR': {
      const codes = errors.map((error) => error.code).filter((one) => one !== '');
      return { kind: codes.every((one) => PASSING.has(one)) ? 'passing' : 'refused', reason };
    }
    default:
      return { kind: 'other' };
  }
}

/** ERR-3 is code^text^table, ERR-7 and ERR-8 are words for programmers and people; ERR-1 held the code in older versions. */
function errorIn(line: string, field: string, component: string): { code: string; words: string } {
  const parts = line.split(field);
  const [code = '', text = ''] = (parts[3] ?? '').split(component);
  const old = (parts[1] ?? '').split(component)[3]?.split('&') ?? [];
  const words = [parts[8], parts[7], text, old[1]].find((part) => part) ?? '';
  return { code: code || (old[0] ?? ''), words: [code || old[0], words].filter((part) => part).join(' ') };
}
