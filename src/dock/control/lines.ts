/** Cuts a stream of bytes into lines of bounded length. Knows nothing of what is in them. */

export interface LineCutter {
  /** The lines that are whole now, without their ends; `too-long` once more than the bound came without an end. */
  push(chunk: Uint8Array): readonly string[] | 'too-long';
}

const NEWLINE = 10;

/** A cutter for UTF-8 lines of at most `maxBytes`, each ended by a line feed. */
export function makeLineCutter(maxBytes: number): LineCutter {
  let parts: Uint8Array[] = [];
  let waiting = 0;
  return {
    push(chunk) {
      const lines: string[] = [];
      let rest = chunk;
      for (let end = rest.indexOf(NEWLINE); end >= 0; end = rest.indexOf(NEWLINE)) {
        if (waiting + end > maxBytes) return 'too-long';
        lines.push(Buffer.concat([...parts, rest.subarray(0, end)]).toString('utf8'));
        parts = [];
        waiting = 0;
        rest = rest.subarray(end + 1);
      }
      if (rest.length > 0) parts.push(rest);
      waiting += rest.length;
      return waiting > maxBytes ? 'too-long' : lines;
    },
  };
}
