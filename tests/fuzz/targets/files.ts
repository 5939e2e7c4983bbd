/** What people and programs hand over as text: captures, profiles, the config, and the control channel's lines. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { Fault, type FaultCode } from '../../../src/core/fault.ts';
import { parseConfig } from '../../../src/dock/config.ts';
import { makeLineCutter } from '../../../src/dock/control/lines.ts';
import { Answer, MAX_REQUEST_BYTES, Request } from '../../../src/dock/control/messages.ts';
import { formatCapture, parseCapture } from '../../../src/wire/capture-file.ts';
import { parseProfile } from '../../../src/wire/profile.ts';
import { replayTexts } from '../corpus.ts';
import { rechunk } from '../mutate.ts';
import { promise, type Target, textOf } from '../target.ts';

const JSON_WORDS = [
  '{',
  '}',
  '[',
  ']',
  ':',
  ',',
  '"',
  'null',
  'true',
  '-1',
  '1e999',
  '""',
  '{}',
  '[]',
  '\\u0000',
  '\\ud800',
];

const utf8 = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

/** What `work` gives, or undefined where it threw the fault that its document names, whose sentence matches `says`. */
function orFault<T>(code: FaultCode, says: RegExp, work: () => T): T | undefined {
  try {
    return work();
  } catch (thrown) {
    if (!(thrown instanceof Fault)) throw thrown;
    promise(thrown.code === code, `the fault is ${code} and not ${thrown.code}`);
    promise(says.test(thrown.message) && thrown.hint !== '', `the fault names its place: ${thrown.message}`);
    return undefined;
  }
}

const capture: Target = {
  name: 'capture-file',
  corpus: [
    '{"capture":1,"port":"COM3","profile":"tlp-generic","zone":"Europe/Lisbon","openedAt":"2025-01-11T18:40:47.654Z"}\n{"at":"2025-01-11T18:40:47.700Z","dir":"out","data":"SEVMTE8gdj0xKjQyODINCg=="}\n{"closedAt":"2025-01-11T18:40:48.654Z","clockStepS":-12.5}\n',
    ...replayTexts(3200).map((text) => text.split('\n').slice(0, 8).join('\n')),
  ],
  words: [
    ...JSON_WORDS,
    '"capture":1',
    '"capture":2',
    '"zone":"Mars/Base"',
    '"at":"2025-02-30T00:00:00Z"',
    '"dir":"in"',
    '{"closedAt":"2025-01-11T18:40:48.654Z"}',
    '"data":"AA="',
    '"clockStepS":0',
  ],
  check(bytes) {
    const text = utf8(bytes);
    const read = orFault('CAPTURE_BROKEN', /^a\.jsonl, line \d+: [^\n]+$/, () => parseCapture(text, 'a.jsonl'));
    if (!read) return;
    const written = formatCapture(read);
    const again = parseCapture(written, 'a.jsonl');
    promise(formatCapture(again) === written, 'a capture that was read survives being written and read');
    promise(again.chunks.length === read.chunks.length, 'no chunk is lost');
  },
};

const METERS = join(process.cwd(), 'protocols', 'meters');

const profile: Target = {
  name: 'profile',
  corpus: readdirSync(METERS)
    .filter((file) => file.endsWith('.json'))
    .map((file) => readFileSync(join(METERS, file), 'utf8')),
  words: [
    ...JSON_WORDS,
    '"query": true',
    '"order": "ring"',
    '"protocol": "line"',
    '"baud": 0',
    '"H.5.2"',
    '"R.0"',
    '"M.strip.2"',
    '"__proto__": {}',
    '"constructor": 1',
    '"analytes": {"": "X"}',
    '"driftPpm": 1e9',
  ],
  check(bytes) {
    const text = utf8(bytes);
    const read = orFault('PROFILE_INVALID', /^m\.json: [^\n]+$/, () => parseProfile(text, 'm.json'));
    if (!read) return;
    const again = parseProfile(JSON.stringify(read), 'm.json');
    promise(isDeepStrictEqual(again, read), 'a profile that was read is its own profile');
    promise(read.driftPpm > 0 && read.driftPpm <= 10_000, 'the drift has its limits');
  },
};

const CONFIG = `# Port Alder
zone = "Europe/Lisbon"
site = "port-alder"

[store]
warn-free-mb = 2000
stop-free-mb = 500

[log]
level = "debug"

[backup]
folder = "D:/copies"
every-hours = 12
keep = 30

[[dock]]
name = "left"
usb-serial = "A50285BI"

[[dock]]
name = "ward 2"
port = "tcp://192.0.2.10:4001"
profile = "astm-generic-newest"
zone = "Europe/Madrid"
set-clock = "never"
wait = 30
`;

const config: Target = {
  name: 'config',
  corpus: [
    CONFIG,
    '',
    'zone = "Europe/Lisbon"\n[desk]\nenabled = true\nport = 4780\naddress = "127.0.0.1"\nhost-names = ["desk.port-alder.example"]\nidle-minutes = 5\n',
    '[clinic]\n\n[store]\nwarn-free-mb = 10\n',
    'dock = [{ name = "a", path = "/dev/ttyUSB0" }, { name = "b", port = "COM3" }]\n',
  ],
  words: [
    '[store]',
    '[[dock]]',
    '[dock]',
    '[clinic]',
    '[desk]',
    'a.b.c = 1\n',
    '"" = 1\n',
    '"a\\nb" = 1\n',
    '__proto__ = 1\n',
    '[constructor]\n',
    '"""',
    "'''",
    '= ',
    'true',
    '1979-05-27T07:32:00Z',
    'inf',
    'nan',
    '0xff',
    '[[',
    ']]',
    '{ a = 1 }',
    '[1, 2]',
    'port = ',
    'set-clock = "always"',
  ],
  check(bytes) {
    const text = utf8(bytes);
    const lines = text.split('\n').length;
    let place = 1;
    const read = orFault('CONFIG_INVALID', /^config\.toml line \d+: [^\n]+$/, () => {
      try {
        return parseConfig(text, 'config.toml');
      } catch (thrown) {
        if (thrown instanceof Error) place = Number(/line (\d+)/.exec(thrown.message)?.[1]);
        throw thrown;
      }
    });
    promise(place >= 1 && place <= lines, `line ${place} is one of the file`);
    if (!read) return;
    promise(read.store.stopFreeMb <= read.store.warnFreeMb, 'the limits of the disk are in their order');
    promise(new Set(read.docks.map((d) => d.name)).size === read.docks.length, 'no two docks have one name');
  },
};

const STATUS =
  '{"version":"1.0.0","pid":7,"startedAt":1767000000000,"dataDir":"D:/data","docks":[{"name":"left","phase":"docked","since":1767000000000,"read":3,"held":3}],"outlets":[],"warnings":[]}';

const control: Target = {
  name: 'control',
  corpus: [
    '{"op":"status"}\n',
    '{"op":"watch"}\n{"op":"figures"}\n',
    '{"op":"owns","port":"COM3"}\n',
    '{"op":"collect","port":"/dev/ttyUSB0","setClock":"when-off"}\n',
    '{"op":"stop","how":"clean"}\n',
    `{"kind":"status","status":${STATUS}}\n`,
    '{"kind":"owns","owns":true}\n{"kind":"stopping","pid":7}\n',
    '{"kind":"fault","fault":{"code":"PORT_BUSY","message":"It is busy","hint":"Wait."}}\n',
    '{"kind":"collected","downloads":["d1"],"fault":{"code":"DOWNLOAD_CUT","message":"cut","hint":"Dock it again."}}\n',
  ],
  words: [...JSON_WORDS, '"op":"collect"', '"op":"stop"', '"how":"now"', '"kind":"figures"', '"__proto__":{}', '\n'],
  check(bytes, chance) {
    const cut = (chunks: readonly Uint8Array[]): string[] | 'too-long' => {
      const cutter = makeLineCutter(MAX_REQUEST_BYTES);
      const lines: string[] = [];
      for (const chunk of chunks) {
        const more = cutter.push(chunk);
        if (more === 'too-long') return more;
        for (const line of more) lines.push(line);
      }
      return lines;
    };
    const lines = cut([bytes]);
    promise(JSON.stringify(lines) === JSON.stringify(cut(rechunk(bytes, chance))), 'chunk borders mean nothing');
    if (lines === 'too-long') return promise(bytes.length > MAX_REQUEST_BYTES, 'only what is long is too long');
    promise(lines.join('\n') === utf8Lines(bytes), 'lines are what stands between their ends');
    // Neither side reads on behind a line that is wrong; a hundred thousand refusals are no work of theirs.
    for (const line of lines.slice(0, 50)) {
      promise(Buffer.byteLength(line) <= 3 * MAX_REQUEST_BYTES, 'a line has its limit');
      let json: unknown;
      try {
        json = JSON.parse(line);
      } catch (thrown) {
        if (thrown instanceof SyntaxError) continue;
        throw thrown;
      }
      const request = Request.safeParse(json);
      if (request.success)
        promise(Request.safeParse(JSON.parse(JSON.stringify(request.data))).success, 'a request survives travelling');
      const answer = Answer.safeParse(json);
      promise(!(request.success && answer.success), 'nothing is a request and an answer');
    }
  },
};

/** The whole lines in some bytes, without the end of the last one. */
function utf8Lines(bytes: Uint8Array): string {
  const end = textOf(bytes).lastIndexOf('\n');
  return end < 0 ? '' : Buffer.from(bytes.subarray(0, end)).toString('utf8');
}

/** All targets of texts. */
export const fileTargets: readonly Target[] = [capture, profile, config, control];
