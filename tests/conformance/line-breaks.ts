/**
 * Ways to break TLP/1, each a small wrapper around a meter that keeps it, and the clauses that must find it: those and
 * no other. Where one fault breaks two promises, both stand there.
 */
import { slowCrc, tlpLine } from '../support/tiny-tlp.ts';
import type { Device, Happening, Reaction, Said } from './device.ts';

/** Makes a broken meter of a good one. */
type Wrap = (device: Device) => Device;

/** A broken meter. */
export interface LineBreak {
  readonly name: string;
  readonly wrap: Wrap;
  /** The clauses that fail. */
  readonly fails: readonly string[];
  /** The memory's order; newest first where absent. */
  readonly order?: 'ring';
}

const bodyOf = (line: string): string => line.slice(0, line.lastIndexOf('*'));
const NOTHING: Reaction = { says: [] };

/** Every body that the meter says becomes what `rewrite` makes of it: one, several or none. */
const saying =
  (rewrite: (body: string, question: string) => string | readonly string[], frame = tlpLine): Wrap =>
  (device) => {
    let question = '';
    return (happening) => {
      if (happening.kind === 'bytes') question = bodyOf(happening.text);
      return told(device(happening), ({ from, text }) =>
        [rewrite(bodyOf(text), question)].flat().map((body) => ({ from, text: frame(body) })),
      );
    };
  };

const told = (reaction: Reaction, change: (said: Said) => readonly Said[]): Reaction => ({
  ...reaction,
  says: reaction.says.flatMap(change),
});

/** The same, and END counts and sums what is then told. */
const sayingWithProof =
  (rewrite: (body: string, question: string) => string | readonly string[]): Wrap =>
  (device) => {
    let bodies: string[] = [];
    return saying((body, question) => {
      const said = [rewrite(body, question)].flat();
      if (!body.startsWith('END')) {
        bodies.push(...said.filter((one) => one.startsWith('REC')));
        return said;
      }
      const end = endOf(bodies);
      bodies = [];
      return end;
    })(device);
  };

const endOf = (bodies: readonly string[], lineEnd = '\n'): string =>
  `END n=${bodies.length} x=${slowCrc(bodies.map((body) => body + lineEnd).join(''))}`;

/** END becomes what `make` says of the results of this answer, and of those told so far by the first. */
const ending =
  (make: (bodies: readonly string[], whole: readonly string[], question: string) => string): Wrap =>
  (device) => {
    let bodies: string[] = [];
    let whole: string[] | undefined;
    return saying((body, question) => {
      if (body.startsWith('REC')) bodies.push(body);
      if (!body.startsWith('END')) return body;
      whole ??= bodies;
      const end = make(bodies, whole, question);
      bodies = [];
      return end;
    })(device);
  };

/** What the host says becomes what `rewrite` makes of it before it reaches the meter. */
const hearing =
  (rewrite: (text: string) => string): Wrap =>
  (device) =>
  (happening) =>
    happening.kind === 'bytes' ? device({ ...happening, text: rewrite(happening.text) }) : device(happening);

/** A question that matches is answered by `answer`; undefined leaves it to the meter. */
const answering =
  (answer: (text: string, happening: Happening) => string | undefined): Wrap =>
  (device) =>
  (happening) => {
    const text = happening.kind === 'bytes' ? answer(happening.text, happening) : undefined;
    return text === undefined ? device(happening) : { says: text === '' ? [] : [{ from: happening.at, text }] };
  };

/** The body of METER, REC or whatever it is, with one key made another. */
const key =
  (verb: string, pattern: RegExp, to: string | ((found: string) => string)) =>
  (body: string): string =>
    body.startsWith(verb) ? body.replace(pattern, (found) => (typeof to === 'string' ? to : to(found))) : body;

/** A result's key made another, in every answer alike, with its proof. */
const result = (pattern: RegExp, to: string | ((found: string) => string)): Wrap =>
  sayingWithProof(key('REC', pattern, to));

const line = (device: Device, body: string, at: number): Reaction => device({ kind: 'bytes', at, text: tlpLine(body) });

/** Its clock shows what it showed at a moment that `seen` makes of the true one. */
const clockAt =
  (seen: (happening: Happening) => number): Wrap =>
  (device) =>
  (happening) => {
    const at = seen(happening);
    const late = happening.at - at;
    return told(device({ ...happening, at }), ({ from, text }) => [{ from: from + late, text }]);
  };

/** Every `everyMs` from its opening it says something that nobody asked for. */
const chattering =
  (text: string, everyMs: number, until = Number.POSITIVE_INFINITY): Wrap =>
  (device) => {
    let next = Number.POSITIVE_INFINITY;
    let left = until;
    return (happening) => {
      if (happening.kind === 'opened') next = happening.at + everyMs;
      const reaction = happening.kind === 'wake' ? NOTHING : device(happening);
      const isDue = happening.at >= next && left > 0;
      if (isDue) {
        next = happening.at + everyMs;
        left--;
      }
      const says = isDue ? [...reaction.says, { from: happening.at, text }] : reaction.says;
      return left > 0 ? { says, wakeAt: next } : { says };
    };
  };

export const LINE_BREAKS: readonly LineBreak[] = [
  // L1, identity
  { name: 'never answers', wrap: () => () => NOTHING, fails: ['L1.1'] },
  { name: 'leaves out the order of its memory', wrap: saying(key('METER', / order=\w+/, '')), fails: ['L1.2'] },
  { name: 'speaks of version 2', wrap: saying(key('METER', /v=1/, 'v=2')), fails: ['L1.2'] },
  { name: 'holds more than it has slots', wrap: saying(key('METER', /held=\d+/, 'held=201')), fails: ['L1.3', 'L3.5'] },
  {
    name: 'names a slot that its ring does not have',
    order: 'ring',
    wrap: saying(key('METER', /next=\d+/, 'next=0')),
    fails: ['L1.4'],
  },
  { name: 'counts power losses in words', wrap: saying(key('METER', /loss=\d+/, 'loss=none')), fails: ['L1.5'] },
  {
    name: 'resets to a date that does not exist',
    wrap: saying(key('METER', /loss=/, 'reset=2000-00-00T00:00 loss=')),
    fails: ['L1.5'],
  },
  {
    name: 'has another firmware each time',
    wrap(device) {
      let version = 0;
      return saying(key('METER', /fw=1\.0/, () => `fw=1.${version++}`))(device);
    },
    fails: ['L1.6'],
  },

  // L2, clock
  {
    name: 'calls its time now where CLOCK is asked',
    wrap: saying((body, question) => (question === 'CLOCK' ? key('CLOCK', / t=/, ' now=')(body) : body)),
    // Nothing that reads the clock by CLOCK can be kept then.
    fails: ['L2.1', 'L2.5', 'L2.6'],
  },
  {
    name: 'tells in METER the time at which it was opened',
    wrap(device) {
      let first: string | undefined;
      return saying(
        key('METER', /clock=\S+/, (now) => {
          first ??= now;
          return first;
        }),
      )(device);
    },
    fails: ['L2.2'],
  },
  {
    name: 'has a clock that runs half as fast',
    wrap(device) {
      let from: number | undefined;
      return clockAt(({ at }) => {
        from ??= at;
        return from + (at - from) / 2;
      })(device);
    },
    fails: ['L2.2', 'L2.3', 'L2.5', 'L7.4'],
  },
  {
    name: 'reads the clock back before it sets it',
    wrap: (device) => (happening) => {
      if (happening.kind !== 'bytes' || !happening.text.startsWith('SET t=2026-03')) return device(happening);
      const before = line(device, 'CLOCK', happening.at);
      device(happening);
      return before;
    },
    fails: ['L2.4'],
  },
  {
    name: 'repeats the time of SET but does not set its clock',
    wrap: answering((text) => (text.startsWith('SET') ? tlpLine(bodyOf(text).replace('SET', 'CLOCK')) : undefined)),
    fails: ['L2.5'],
  },
  {
    name: 'has no leap days',
    wrap: saying(key('CLOCK', /2028-02-29|2028-03-01/, (day) => (day.endsWith('29') ? day : '2028-02-30'))),
    fails: ['L2.5'],
  },
  {
    name: 'shows a day that does not exist when told to',
    wrap(device) {
      let shown: string | undefined;
      return answering((text) => {
        if (text.startsWith('SET')) shown = text.startsWith('SET t=2027-02-29') ? '2027-02-29T10:15:00' : undefined;
        return shown !== undefined && /^(SET|CLOCK)\b/.test(text) ? tlpLine(`CLOCK t=${shown}`) : undefined;
      })(device);
    },
    fails: ['L2.6'],
  },

  // L3, the whole memory
  {
    name: 'has no END',
    wrap: saying((body) => (body.startsWith('END') ? [] : body)),
    fails: ['L3.1', 'L5.4'],
  },
  {
    name: 'says something else between its results',
    wrap: saying((body) => (body.startsWith('REC i=5 ') ? ['CLOCK t=2026-03-02T10:15', body] : body)),
    fails: ['L3.1'],
  },
  {
    name: 'numbers its slots from 0',
    wrap: sayingWithProof(key('REC', /i=\d+/, (found) => `i=${Number(found.slice(2)) - 1}`)),
    // A slot asked for is then another one.
    fails: ['L3.2', 'L5.1', 'L5.2', 'L5.8', 'L5.9'],
  },
  {
    name: 'counts END among the results',
    wrap: ending((bodies) => endOf(bodies).replace(/n=\d+/, `n=${bodies.length + 1}`)),
    fails: ['L3.3', 'L5.4'],
  },
  {
    name: 'sums CR and LF behind each body',
    wrap: ending((bodies) => endOf(bodies, '\r\n')),
    fails: ['L3.4', 'L5.4'],
  },
  { name: 'holds one more than it tells', wrap: saying(key('METER', /held=12/, 'held=13')), fails: ['L3.5'] },
  {
    name: 'swaps the running numbers of two tests',
    wrap: result(/ n=[67] /, (found) => (found === ' n=6 ' ? ' n=7 ' : ' n=6 ')),
    fails: ['L3.6'],
  },
  {
    name: 'marks results as read',
    wrap(device) {
      let read = 0;
      return sayingWithProof((body, question) => {
        if (question === 'READ' && body.startsWith('END')) read = 1;
        return read === 1 && body.startsWith('REC') ? `${body} seen=1` : body;
      })(device);
    },
    fails: ['L3.7'],
  },
  {
    name: 'forgets its oldest result when it is read',
    wrap(device) {
      let forgets = false;
      return sayingWithProof((body, question) => {
        if (question === 'READ' && body.startsWith('END')) forgets = true;
        if (body.startsWith('METER') && forgets) return body.replace('held=12', 'held=11');
        return forgets && body.startsWith('REC i=12 ') ? [] : body;
      })(device);
    },
    fails: ['L3.7'],
  },

  // L4, what a result says
  { name: 'has kinds of its own', wrap: result(/ k=p/, ' k=patient'), fails: ['L4.1'] },
  { name: 'stamps a day that does not exist', wrap: result(/t=2026-02-28/, 't=2026-02-31'), fails: ['L4.2'] },
  { name: 'leaves out the unit', wrap: result(/ u=\S+/, ''), fails: ['L4.3'] },
  { name: 'has errors without a code', wrap: result(/ e=\S+/, ''), fails: ['L4.4'] },
  { name: 'writes values with a comma', wrap: result(/ v=\d+\.\d/, (v) => v.replace('.', ',')), fails: ['L4.5'] },
  { name: 'leaves out the unit of the second value', wrap: result(/ u2=\S+/, ''), fails: ['L4.6'] },
  { name: 'has a fifth value', wrap: result(/ lot=/, ' a5=LAC v5=1 u5=mmol/L lot='), fails: ['L4.6'] },
  { name: 'numbers its tests by letters', wrap: result(/ n=\d+/, ' n=x'), fails: ['L4.7'] },
  { name: 'lost its clock more often in a test than ever', wrap: result(/ c=0/, ' c=3'), fails: ['L4.8'] },
  { name: 'has a thirteenth month', wrap: result(/ exp=\d{4}-\d\d/, ' exp=2027-13'), fails: ['L4.9'] },
  { name: 'has flags of its own', wrap: result(/ lot=/, ' f=lo,low lot='), fails: ['L4.10'] },

  // L5, parts of the memory
  {
    name: 'takes every READ for the whole memory',
    wrap: hearing((text) => (text.startsWith('READ') ? tlpLine('READ') : text)),
    fails: ['L5.1', 'L5.2', 'L5.5', 'L5.6', 'L5.7', 'L5.8', 'L5.9'],
  },
  {
    name: 'leaves out the last slot asked for',
    wrap: hearing((text) =>
      /^READ (from|to)/.test(text) && !text.includes('to=200')
        ? tlpLine(bodyOf(text).replace(/to=(\d+)/, (_, to) => `to=${Number(to) - 1}`))
        : text,
    ),
    fails: ['L5.1', 'L5.2', 'L5.8', 'L5.9'],
  },
  {
    name: 'tells single slots in other words',
    wrap: saying((body, question) =>
      /from=(\d+) to=\1$/.test(question) ? key('REC', / op=| lot=/, ' x=1$&')(body) : body,
    ),
    fails: ['L5.1'],
  },
  {
    name: 'ends at slot 10 where it is asked for all by number',
    wrap: hearing((text) => (text.startsWith('READ from=1 to=200') ? tlpLine('READ from=1 to=10') : text)),
    fails: ['L5.3'],
  },
  {
    name: 'sums the whole memory under each part',
    wrap: ending((bodies, whole) => endOf(bodies).replace(/x=.*/, endOf(whole).replace(/^.* /, ''))),
    fails: ['L5.4'],
  },
  {
    name: 'is silent about an empty slot',
    wrap: saying((body) => (body === 'ERR e=noslot' ? [] : body)),
    fails: ['L5.5'],
  },
  {
    name: 'begins again at slot 1 beyond the last',
    wrap: hearing((text) => (text.includes('to=201') ? tlpLine('READ from=1 to=1') : text)),
    fails: ['L5.6'],
  },
  {
    name: 'puts the ends of a part into order by itself',
    wrap: hearing((text) => {
      const [, from, to] = /^READ from=(\d+) to=(\d+)\*/.exec(text) ?? [];
      return Number(from) > Number(to) ? tlpLine(`READ from=${to} to=${from}`) : text;
    }),
    fails: ['L5.7'],
  },
  {
    name: 'wants its keys in one order',
    wrap: answering((text) => (text.startsWith('READ to=') ? tlpLine('ERR e=syntax') : undefined)),
    fails: ['L5.8'],
  },
  {
    name: 'refuses keys that it does not know',
    wrap: answering((text) => (/ zz-9=/.test(text) ? tlpLine('ERR e=syntax') : undefined)),
    fails: ['L5.9'],
  },

  // L6, damaged and malformed lines
  {
    name: 'does not check the check digits',
    wrap: hearing((text) => text.replace(/^([ -~]*)\*[0-9A-Fa-f]{4}\r\n$/, (_, body) => tlpLine(body))),
    fails: ['L6.1', 'L6.2'],
  },
  {
    name: 'takes check digits in lower case',
    wrap: hearing((text) => text.replace(/\*[0-9a-f]{4}\r\n$/, (digits) => digits.toUpperCase())),
    fails: ['L6.2'],
  },
  {
    name: 'takes lines without check digits',
    wrap: hearing((text) => (text === 'CLOCK\r\n' ? tlpLine('CLOCK') : text)),
    fails: ['L6.3'],
  },
  {
    name: 'answers noise with its name',
    wrap: answering((text) => (/[\x80-\xff]/.test(text) ? tlpLine('METER v=1') : undefined)),
    fails: ['L6.4'],
  },
  {
    name: 'takes lines of any length',
    wrap: hearing((text) => (text.length > 240 ? tlpLine(bodyOf(text).slice(0, 230)) : text)),
    fails: ['L6.5'],
  },
  {
    name: 'starts afresh when its buffer is full',
    wrap: hearing((text) => text.replace(/A{256}/g, '')),
    fails: ['L6.6'],
  },
  {
    name: 'takes verbs in lower case',
    wrap: hearing((text) => (text.startsWith('clock') ? tlpLine('CLOCK') : text)),
    fails: ['L6.7'],
  },
  {
    name: 'takes the last of a key that stands twice',
    wrap: hearing((text) => (text.includes('zz=1 zz=2') ? tlpLine('CLOCK') : text)),
    fails: ['L6.8'],
  },
  {
    name: 'splits at any number of spaces',
    wrap: hearing((text) => (text.includes('  ') ? tlpLine(bodyOf(text).replace('  ', ' ')) : text)),
    fails: ['L6.9'],
  },
  {
    name: 'takes keys without a value',
    wrap: hearing((text) => (text.includes('zz=*') ? tlpLine('CLOCK') : text)),
    fails: ['L6.10'],
  },
  {
    name: 'takes what it does not know for HELLO',
    wrap: hearing((text) => (text.startsWith('XYZZY') ? tlpLine('HELLO v=1') : text)),
    fails: ['L6.11'],
  },
  {
    name: 'waits for CR LF',
    wrap: hearing((text) => (/[^\r]\n$/.test(text) ? text.slice(0, -1) : text)),
    fails: ['L6.12'],
  },
  {
    name: 'answers empty lines',
    wrap: (device) => (happening) => {
      const reaction = device(happening);
      if (happening.kind !== 'bytes' || !/^\r\n\n/.test(happening.text)) return reaction;
      return { ...reaction, says: [{ from: happening.at, text: tlpLine('ERR e=syntax') }, ...reaction.says] };
    },
    fails: ['L6.13'],
  },
  {
    name: 'has a buffer of 200 bytes',
    wrap: hearing((text) => (text.length > 200 ? '' : text)),
    fails: ['L6.14'],
  },
  {
    name: 'wants a line in one piece',
    wrap: hearing((text) => (text.endsWith('\n') && text.includes('*') ? text : `${text}\n`)),
    fails: ['L6.15'],
  },

  // L7, sleep
  { name: 'goes without a word', wrap: saying((body) => (body === 'BYE' ? [] : body)), fails: ['L7.1'] },
  {
    name: 'wakes no more',
    wrap(device) {
      let isGone = false;
      return (happening) => {
        if (isGone) return NOTHING;
        isGone = happening.kind === 'bytes' && happening.text.startsWith('BYE');
        return device(happening);
      };
    },
    fails: ['L7.2'],
  },
  {
    name: 'has forgotten a result when it wakes',
    wrap(device) {
      let gone = 0;
      return saying((body) => {
        if (body === 'BYE') gone++;
        return gone === 2 ? key('METER', /held=12/, 'held=11')(body) : body;
      })(device);
    },
    fails: ['L7.2'],
  },
  {
    name: 'says that it sleeps',
    wrap: (device) => (happening) => {
      const reaction = device(happening);
      if (happening.kind !== 'bytes' || !happening.text.startsWith('BYE')) return reaction;
      return { ...reaction, says: [...reaction.says, { from: happening.at + 500, text: tlpLine('BYE m=sleeping') }] };
    },
    // Two promises: that of BYE, and that nothing comes unasked.
    fails: ['L7.3', 'L8.8'],
  },
  {
    name: 'stops its clock while it sleeps',
    wrap(device) {
      let sleptMs = 0;
      let sleepsFrom: number | undefined;
      return clockAt((happening) => {
        if (happening.kind === 'bytes' && sleepsFrom !== undefined) {
          sleptMs += happening.at - sleepsFrom;
          sleepsFrom = undefined;
        }
        if (happening.kind === 'bytes' && happening.text.startsWith('BYE')) sleepsFrom = happening.at;
        return happening.at - sleptMs;
      })(device);
    },
    fails: ['L7.4'],
  },

  // L8, the form of every line
  {
    name: 'writes check digits in lower case',
    wrap: saying(
      (body) => body,
      (body) => `${body}*${slowCrc(body).toLowerCase()}\r\n`,
    ),
    fails: ['L8.1'],
  },
  {
    name: 'sums the * too',
    wrap: saying(
      (body) => body,
      (body) => `${body}*${slowCrc(`${body}*`)}\r\n`,
    ),
    fails: ['L8.1'],
  },
  {
    name: 'has bodies of 231 bytes',
    wrap: result(/^REC i=3 .*/, (body) => `${body} x=`.padEnd(231, 'x')),
    fails: ['L8.2'],
  },
  {
    name: 'writes umlauts as they are',
    wrap: result(/ lot=/, ' op=J\xfcrgen lot='),
    fails: ['L8.3', 'L8.4'],
  },
  { name: 'writes two spaces between its keys', wrap: saying(key('METER', / cap=/, '  cap=')), fails: ['L8.4'] },
  {
    name: 'does not end its last line',
    wrap: saying(
      (body) => body,
      (body) => (body === 'BYE' ? `${body}*${slowCrc(body)}` : tlpLine(body)),
    ),
    fails: ['L8.3'],
  },
  { name: 'has a key twice', wrap: saying(key('METER', /cap=/, 'zz=1 zz=2 cap=')), fails: ['L8.4'] },
  { name: 'has keys in upper case', wrap: result(/ lot=/, ' LOT=1 lot='), fails: ['L8.4'] },
  {
    name: 'says who it is in two lines',
    wrap: saying((body) => (body.startsWith('METER') ? ['MAKER name=none', body] : body)),
    fails: ['L8.5'],
  },
  {
    name: 'has errors of its own',
    wrap: saying((body) => (body === 'ERR e=range' ? 'ERR e=beyond' : body)),
    fails: ['L8.6'],
  },
  {
    name: 'thinks for 2.6 seconds',
    wrap: (device) => (happening) => told(device(happening), ({ from, text }) => [{ from: from + 2600, text }]),
    fails: ['L8.7'],
  },
  {
    name: 'pauses for 2.5 seconds between two results',
    wrap: (device) => (happening) => {
      let late = 0;
      return told(device(happening), ({ from, text }) => {
        if (text.startsWith('REC i=7 ')) late = 2500;
        return [{ from: from + late, text }];
      });
    },
    fails: ['L8.7'],
  },
  {
    name: 'shows that it lives',
    wrap: chattering(tlpLine('CLOCK t=2026-03-02T10:15:00'), 1700, 1),
    fails: ['L8.8'],
  },
  {
    name: 'tells new tests without their time',
    wrap: chattering(tlpLine('NEW i=1 k=p a=INR v=2.5 u={INR}'), 1700, 1),
    fails: ['L8.9'],
  },
];
