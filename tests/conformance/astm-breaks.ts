/**
 * Ways to break E1381 and E1394, each a habit of the virtual meter or a small wrapper around a good one, and the
 * clauses that must find it: those and no other. Where one fault breaks two promises, both stand there.
 */
import type { AstmHabits } from '../../src/virtual/speak-astm.ts';
import { LINK_TIMERS } from '../../src/wire/astm/link-timers.ts';
import type { Device, Reaction, Said } from './device.ts';

/** Makes a broken meter of a good one. */
type Wrap = (device: Device) => Device;

/** A broken meter. */
export interface AstmBreak {
  readonly name: string;
  readonly wrap?: Wrap;
  readonly habits?: Partial<AstmHabits>;
  /** The clauses that fail. */
  readonly fails: readonly string[];
  /** True where the meter is one that is asked. */
  readonly isAsked?: boolean;
}

const [STX, ETX, EOT, ENQ, ACK, NAK, ETB] = ['\x02', '\x03', '\x04', '\x05', '\x06', '\x15', '\x17'];
const NOTHING: Reaction = { says: [] };

/** Sum as the standard has it, made for these tests. */
const sum = (counted: string): string =>
  ([...Buffer.from(counted, 'latin1')].reduce((total, byte) => total + byte, 0) % 256)
    .toString(16)
    .toUpperCase()
    .padStart(2, '0');

const frame = (number: string, text: string, end: string = ETX): string => {
  const counted = `${number}${text}${end}`;
  return `${STX}${counted}${sum(counted)}\r\n`;
};

/** A whole frame as its number, its text and the character that ends it; undefined for anything else. */
function partsOf(bytes: string): { number: string; text: string; end: string } | undefined {
  if (!bytes.startsWith(STX)) return undefined;
  const body = bytes.slice(1, -4);
  return { number: body.charAt(0), text: body.slice(1, -1), end: body.slice(-1) };
}

const told = (reaction: Reaction, change: (said: Said) => readonly Said[]): Reaction => ({
  ...reaction,
  says: reaction.says.flatMap(change),
});

/** What the meter says becomes what `rewrite` makes of it; `heard` is what the host said before. */
const saying =
  (rewrite: (bytes: string, heard: string) => string): Wrap =>
  (device) =>
  (happening) => {
    const heard = happening.kind === 'bytes' ? happening.text : '';
    return told(device(happening), ({ from, text }) => [{ from, text: rewrite(text, heard) }]);
  };

/** Every frame becomes what `rewrite` makes of it. */
const framing = (rewrite: (number: string, text: string, end: string) => string): Wrap =>
  saying((bytes) => {
    const parts = partsOf(bytes);
    return parts ? rewrite(parts.number, parts.text, parts.end) : bytes;
  });

/** Every record that matches is made another, in a right frame. */
const record = (pattern: RegExp, to: string | ((found: string) => string)): Wrap =>
  framing((number, text, end) =>
    frame(
      number,
      text.replace(pattern, (found) => (typeof to === 'string' ? to : to(found))),
      end,
    ),
  );

/** What the host says becomes what `rewrite` makes of it before it reaches the meter; `said` is the meter's last word. */
const hearing =
  (rewrite: (text: string, said: string) => string): Wrap =>
  (device) => {
    let said = '';
    return (happening) => {
      const reaction = device(
        happening.kind === 'bytes' ? { ...happening, text: rewrite(happening.text, said) } : happening,
      );
      said = reaction.says.at(-1)?.text ?? said;
      return reaction;
    };
  };

/** Bytes of the host that match are answered by `answer`, and the meter never hears of them. */
const answering =
  (answer: (text: string, said: string) => string | undefined): Wrap =>
  (device) => {
    let said = '';
    let wakeAt: number | undefined;
    return (happening) => {
      const text = happening.kind === 'bytes' ? answer(happening.text, said) : undefined;
      if (text !== undefined) {
        const says = text === '' ? [] : [{ from: happening.at, text }];
        return wakeAt === undefined ? { says } : { says, wakeAt };
      }
      const reaction = device(happening);
      wakeAt = reaction.wakeAt;
      said = reaction.says.at(-1)?.text ?? said;
      return reaction;
    };
  };

const isFrame = (said: string): boolean => said.startsWith(STX);
const timers = (changed: Partial<typeof LINK_TIMERS>): Partial<AstmHabits> => ({
  timers: { ...LINK_TIMERS, ...changed },
});
/** Counts the transfers that the meter began. */
const counting =
  (wrap: (nth: () => number) => Wrap): Wrap =>
  (device) => {
    let begun = 0;
    const wrapped = wrap(() => begun)(device);
    return (happening) =>
      told(wrapped(happening), (said) => {
        if (said.text === ENQ) begun++;
        return [said];
      });
  };

export const ASTM_BREAKS: readonly AstmBreak[] = [
  // A1, calling and frames
  { name: 'never calls', wrap: () => () => NOTHING, fails: ['A1.1'] },
  {
    name: 'has no EOT behind its last frame',
    wrap: saying((bytes, heard) => (bytes === EOT && heard === ACK ? '' : bytes)),
    fails: ['A1.1', 'A1.9'],
  },
  { name: 'ends its frames with CR alone', wrap: saying((bytes) => bytes.replace(/\r\n$/, '\r')), fails: ['A1.2'] },
  {
    name: 'has no sum',
    wrap: saying((bytes) => (isFrame(bytes) ? `${bytes.slice(0, -4)}\r\n` : bytes)),
    fails: ['A1.2'],
  },
  {
    name: 'counts STX into its sum',
    wrap: framing((number, text, end) => `${STX}${number}${text}${end}${sum(`${STX}${number}${text}${end}`)}\r\n`),
    fails: ['A1.3'],
  },
  {
    name: 'leaves ETX out of its sum',
    wrap: framing((number, text, end) => `${STX}${number}${text}${end}${sum(`${number}${text}`)}\r\n`),
    fails: ['A1.3'],
  },
  { name: 'sends 70,000 bytes in a frame', wrap: record(/^M\|1\|strip/, `M|1|${'x'.repeat(70_000)}`), fails: ['A1.4'] },
  { name: 'has XON in its texts', wrap: record(/^M\|1\|strip/, 'M|1|\x11strip'), fails: ['A1.5'] },
  {
    name: 'counts its frames from 0',
    wrap: framing((number, text, end) => frame(String((Number(number) + 7) % 8), text, end)),
    fails: ['A1.6', 'A2.6'],
  },
  {
    name: 'counts its frames from 1 to 7 and again from 1',
    wrap: (device) => {
      let last = 0;
      let counted = 0;
      return framing((number, text, end) => {
        if (text.startsWith('H')) [last, counted] = [0, 0];
        if (Number(number) !== last % 8 || last === 0) counted = (counted % 7) + 1;
        last = Number(number);
        return frame(String(counted), text, end);
      })(device);
    },
    fails: ['A1.6'],
  },
  {
    name: 'puts two records into a frame',
    wrap: record(/^H.*\r/, (text) => `${text}C|1|I|ready|G\r`),
    fails: ['A1.7'],
  },
  { name: 'closes no record with CR', wrap: record(/^L.*\r$/, (text) => text.slice(0, -1)), fails: ['A1.7'] },
  {
    name: 'does not wait for the answer to its header',
    wrap: counting((nth) => (device) => {
      let swallows = false;
      return (happening) => {
        if (happening.kind === 'bytes' && swallows) {
          swallows = false;
          return NOTHING;
        }
        const reaction = device(happening);
        if (nth() > 1 || !reaction.says.some(({ text }) => partsOf(text)?.text.startsWith('H'))) return reaction;
        swallows = true;
        const next = device({ kind: 'bytes', at: happening.at, text: ACK });
        return { ...next, says: [...reaction.says, ...next.says] };
      };
    }),
    fails: ['A1.8'],
  },
  {
    name: 'has a zero byte before each frame',
    wrap: saying((bytes) => (isFrame(bytes) ? `\0${bytes}` : bytes)),
    fails: ['A1.8'],
  },
  {
    name: 'pauses for 31 seconds behind its header',
    wrap: counting((nth) => (device) => {
      let isPausing = false;
      return (happening) => {
        if (isPausing && happening.kind === 'wake') {
          isPausing = false;
          return device({ kind: 'bytes', at: happening.at, text: ACK });
        }
        const reaction = isPausing ? NOTHING : device(happening);
        const isHeader = nth() === 1 && reaction.says.some(({ text }) => partsOf(text)?.text.startsWith('H'));
        // The answer to the header is kept from it for so long, and its own timers with it.
        if (isPausing && happening.kind === 'bytes') return { says: [], wakeAt: happening.at + 31_000 };
        isPausing = isHeader;
        return reaction;
      };
    }),
    fails: ['A1.9'],
  },
  {
    name: 'says good-bye',
    wrap: saying((bytes, heard) => (bytes === EOT && heard === ACK ? `${EOT}bye\r\n` : bytes)),
    fails: ['A1.10'],
  },

  // A2, refusals and silences
  {
    name: 'takes NAK for ACK',
    wrap: hearing((text, said) => (text === NAK && isFrame(said) ? ACK : text)),
    fails: ['A2.1', 'A2.3', 'A2.5'],
  },
  {
    name: 'gives a frame another number when it repeats it',
    wrap: saying((bytes, heard) => {
      const parts = heard === NAK ? partsOf(bytes) : undefined;
      return parts ? frame(String((Number(parts.number) + 1) % 8), parts.text, parts.end) : bytes;
    }),
    fails: ['A2.1', 'A2.3'],
  },
  {
    name: 'waits on where the answer makes no sense',
    wrap: answering((text) => (text === 'x' ? '' : undefined)),
    fails: ['A2.2'],
  },
  { name: 'takes any answer for ACK', wrap: hearing((text) => (text === 'x' ? ACK : text)), fails: ['A2.2'] },
  {
    name: 'gives up after three refusals',
    wrap: (device) => {
      let refusals = 0;
      return answering((text, said) => {
        refusals = text === NAK && isFrame(said) ? refusals + 1 : 0;
        return refusals === 3 ? EOT : undefined;
      })(device);
    },
    fails: ['A2.3', 'A2.5'],
  },
  {
    name: 'takes EOT for a refusal',
    wrap: hearing((text, said) => (text === EOT && isFrame(said) ? 'x' : text)),
    fails: ['A2.4'],
  },
  {
    name: 'repeats a frame eight times',
    wrap: (device) => {
      let refusals = 0;
      return answering((text, said) => {
        refusals = text === NAK && isFrame(said) ? refusals + 1 : 0;
        return refusals === 6 || refusals === 7 ? said : undefined;
      })(device);
    },
    fails: ['A2.5'],
  },
  {
    name: 'goes on at frame 4 where it broke off',
    wrap: (device) => {
      let refusals = 0;
      let shift = 0;
      return saying((bytes, heard) => {
        refusals = heard === NAK ? refusals + 1 : 0;
        const parts = partsOf(bytes);
        if (bytes === EOT) shift = refusals === 6 ? 3 : 0;
        return parts ? frame(String((Number(parts.number) + shift) % 8), parts.text, parts.end) : bytes;
      })(device);
    },
    fails: ['A2.6'],
  },
  { name: 'waits a minute for the answer to a frame', habits: timers({ answerMs: 60_000 }), fails: ['A2.7'] },
  { name: 'waits 5 seconds for the answer to a frame', habits: timers({ answerMs: 5000 }), fails: ['A2.7'] },
  { name: 'waits 2 seconds for the answer to ENQ', habits: { answerToCallMs: 2000 }, fails: ['A2.8'] },
  { name: 'calls again at once where the host is busy', habits: timers({ busyMs: 200 }), fails: ['A2.9'] },
  {
    name: 'does not call again where the host is busy',
    wrap: answering((text, said) => (text === NAK && said === ENQ ? '' : undefined)),
    fails: ['A2.9'],
  },
  {
    name: 'insists where ENQ meets ENQ',
    habits: timers({ contentionMs: { instrument: 100, computer: 20_000 } }),
    fails: ['A2.10'],
  },
  {
    name: 'gives way where ENQ meets ENQ',
    habits: timers({ contentionMs: { instrument: 21_000, computer: 20_000 } }),
    fails: ['A2.10'],
  },

  // A3, records
  { name: 'has no terminator', wrap: record(/^L.*/, 'S|1|end'), fails: ['A3.1'] },
  { name: 'declares a delimiter twice', wrap: record(/^H\|\\\^&/, 'H|^^&'), fails: ['A3.2'] },
  { name: 'declares three delimiters', wrap: record(/^H\|\\\^&/, 'H|\\^'), fails: ['A3.2'] },
  { name: 'has records of its own', wrap: record(/^M\|1/, 'Z|1'), fails: ['A3.3'] },
  { name: 'has results without an order', wrap: record(/^O\|.*/, 'C|1|I|x|G'), fails: ['A3.4'] },
  { name: 'gives each result the number 1', wrap: record(/^R\|\d/, 'R|1'), fails: ['A3.5'] },
  { name: 'does not count its patients', wrap: record(/^P\|\d+/, 'P|1'), fails: ['A3.5'] },
  { name: 'ends a whole message with E', wrap: record(/^L\|1\|N/, 'L|1|E'), fails: ['A3.6'] },
  {
    name: 'has & in its names',
    wrap: record(/^P\|\d+[^\r]*/, (text) => `${text}||||Meyer & Son`),
    fails: ['A3.7'],
  },

  // A4, what a message says
  { name: 'has no serial number', wrap: record(/GM-10\^SN00042/, 'GM-10^'), fails: ['A4.1'] },
  { name: 'has a clock with 13 months', wrap: record(/\|20260302(\d{6})\r/, '|20261302101500\r'), fails: ['A4.2'] },
  {
    name: 'counts its slots from 0',
    wrap: record(/^O\|1\|\|\d+/, (text) => text.replace(/\d+$/, (slot) => String(Number(slot) - 1))),
    fails: ['A4.3'],
  },
  {
    name: 'swaps two running numbers',
    wrap: record(/\^[67]\|/, (text) => (text === '^6|' ? '^7|' : '^6|')),
    fails: ['A4.4'],
  },
  {
    name: 'tells orders that nobody has measured',
    wrap: (device) => {
      let slot = '';
      return framing((number, text, end) => {
        slot = /^O\|1\|\|(\d+)/.exec(text)?.[1] ?? slot;
        return frame(number, slot === '2' ? text.replace(/^R/, 'C') : text, end);
      })(device);
    },
    fails: ['A4.5'],
  },
  { name: 'marks a control test by K', wrap: record(/^O.*\|(?=\r)/, (text) => `${text}K`), fails: ['A4.6'] },
  {
    name: 'names its analytes without the three empty parts',
    wrap: record(/^R\|(\d)\|\^\^\^/, (text) => text.slice(0, 4)),
    fails: ['A4.7'],
  },
  {
    name: 'writes values with a comma',
    wrap: record(/^R\|1\|\^\^\^INR\|\d+\.\d/, (text) => text.replace('.', ',')),
    fails: ['A4.8'],
  },
  { name: 'leaves out units', wrap: record(/\{INR\}/, ''), fails: ['A4.9'] },
  { name: 'has flags of its own', wrap: record(/\{INR\}\|\|/, '{INR}||lo'), fails: ['A4.10'] },
  { name: 'has no status', wrap: record(/\|\|F\|/, '|||'), fails: ['A4.11'] },
  {
    name: 'stamps a day that does not exist',
    wrap: record(/\|20260228(\d{6})\r/, '|20260231101500\r'),
    fails: ['A4.12'],
  },
  { name: 'has strips that expire in month 13', wrap: record(/\^20270531/, '^20271331'), fails: ['A4.13'] },
  { name: 'has strips without a lot', wrap: record(/strip\^\d+/, 'strip^'), fails: ['A4.13'] },
  {
    name: 'does not say why a value is missing',
    wrap: (device) =>
      record(
        /^C\|1\|I\|/,
        'C|1|P|',
      )(record(/\|X\|/, '|F|')(record(/^C\|(.*)\|I\r/, (c) => c.replace(/I\r$/, 'G\r'))(device))),
    fails: ['A4.14'],
  },

  // A5, told again
  {
    name: 'marks results as sent',
    wrap: counting((nth) =>
      framing((number, text, end) => frame(number, nth() > 1 ? text.replace('||F|', '||R|') : text, end)),
    ),
    fails: ['A5.1'],
  },
  {
    name: 'stamps its header when it is switched on',
    wrap: (device) => {
      let first: string | undefined;
      return record(
        /\d{14}\r$/,
        (stamp) => stamp,
      )(
        framing((number, text, end) => {
          if (!text.startsWith('H')) return frame(number, text, end);
          first ??= text;
          return frame(number, first, end);
        })(device),
      );
    },
    fails: ['A5.2'],
  },

  // A6, being asked
  {
    name: 'tires of questions',
    isAsked: true,
    // It takes every question, but after eleven answers it has nothing to say any more.
    wrap: counting((nth) => answering((text, said) => (text === EOT && said === ACK && nth() >= 11 ? '' : undefined))),
    fails: ['A6.1', 'A6.2', 'A6.3', 'A6.4', 'A6.5', 'A6.6', 'A7.1'],
  },
  {
    name: 'does not check sums',
    isAsked: true,
    wrap: hearing((text) => {
      const parts = partsOf(text);
      return parts ? frame(parts.number, parts.text, parts.end) : text;
    }),
    fails: ['A6.2'],
  },
  {
    name: 'takes frames in any order',
    isAsked: true,
    wrap: answering((text) => (text === frame('4', 'Q|1|ALL||ALL\r') ? ACK : undefined)),
    fails: ['A6.3'],
  },
  {
    name: 'refuses a frame that comes again',
    isAsked: true,
    wrap: (device) => {
      let last = '';
      return answering((text) => {
        const isAgain = isFrame(text) && text === last;
        last = text;
        return isAgain ? NAK : undefined;
      })(device);
    },
    fails: ['A6.4'],
  },
  {
    name: 'knows no ETB',
    isAsked: true,
    wrap: answering((text) => (text.includes(ETB) ? NAK : undefined)),
    fails: ['A6.5'],
  },
  {
    name: 'wants STX first',
    isAsked: true,
    wrap: answering((text) => (text.startsWith('\x7f') ? NAK : undefined)),
    fails: ['A6.6'],
  },
  {
    name: 'waits for ever for the rest of a question',
    isAsked: true,
    wrap: (device) => {
      let isOpen = false;
      return answering((text, said) => {
        if (text === ENQ && isOpen && said === ACK) return '';
        isOpen = text !== EOT;
        return undefined;
      })(device);
    },
    fails: ['A6.7'],
  },

  // A7, at rest
  {
    name: 'answers whatever it hears',
    wrap: answering((text) => (text.startsWith('HELLO') ? 'what?\r\n' : undefined)),
    fails: ['A7.1'],
  },
  {
    name: 'does not hear ENQ',
    wrap: answering((text, said) => (text === ENQ && said === EOT ? '' : undefined)),
    fails: ['A7.2'],
  },
];
