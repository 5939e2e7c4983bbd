/** Captures of any host become downloads, as a pure function of their lines. */
import { describe, expect, it } from 'vitest';
import type { Capture, CaptureChunk } from '../../../src/core/capture.ts';
import { instant } from '../../../src/core/instant.ts';
import { frameBody } from '../../../src/wire/line/codec.ts';
import { crcHex } from '../../../src/wire/line/crc16.ts';
import { decodeLine } from '../../../src/wire/line/decode.ts';
import { claimOf } from '../../../src/wire/line/proof.ts';

const FACTS = { name: 'tlp-generic', analytes: {}, units: {} };
const OPENED = Date.UTC(2026, 2, 2, 10, 0, 0);

/** `ms > BODY` is sent and `ms < BODY` received that long after the opening; `ms < !TEXT` is received as it stands. */
function captureOf(script: readonly string[]): Capture {
  const chunks = script.map((line): CaptureChunk => {
    const [, ms = '', sign = '', text = ''] = /^(\d+) ([<>]) (.*)$/s.exec(line) ?? [];
    const data = text.startsWith('!') ? new TextEncoder().encode(text.slice(1)) : frameBody(text);
    return { at: instant(OPENED + Number(ms)), dir: sign === '>' ? 'out' : 'in', data };
  });
  return { port: 'COM3', profile: 'tlp-generic', zone: 'UTC', openedAt: instant(OPENED), chunks };
}

const meter = (more: string, id = 'SN1'): string =>
  `METER v=1 id=${id} model=GM-10 fw=1.0 ${more} clock=2026-03-02T10:00:00`;
const rec = (slot: number, n: number, verb = 'REC'): string =>
  `${verb} i=${slot} n=${n} t=2026-02-${String(n).padStart(2, '0')}T08:00 k=p a=INR v=2.${n % 10} u={INR}`;
const anonymous = (slot: number, n: number, verb = 'REC'): string => rec(slot, n, verb).replace(/ n=\d+/, '');
const end = (...recs: readonly string[]): string => {
  const { count, crc } = claimOf(recs);
  return `END n=${count} x=${crcHex(crc)}`;
};
/** An answer: its lines and its END, each 100 ms after the one before. */
const told = (from: number, ...recs: readonly string[]): string[] =>
  [...recs, end(...recs)].map((body, i) => `${from + i * 100} < ${body}`);

function decode(...script: readonly (string | string[])[]) {
  const downloads = decodeLine(captureOf(script.flat()), FACTS);
  const [download] = downloads;
  if (!download) throw new Error('no download');
  const image = download.image.map((item) =>
    item.kind === 'hole' ? `hole ${item.atMost}` : `${item.test.place}:${item.test.meterTimeText.slice(8, 10)}`,
  );
  return { download, downloads, image };
}

const HELLO = '0 > HELLO v=1';

describe('the order of the tests', () => {
  const recs = [rec(1, 3), rec(2, 2), rec(3, 1)];

  it('of a memory with the newest first is from the last slot to the first', () => {
    const { image, download } = decode(
      HELLO,
      `100 < ${meter('cap=5 held=3 order=newest')}`,
      '200 > READ',
      told(300, ...recs),
    );
    expect(image).toEqual(['3:01', '2:02', '1:03']);
    expect(download).toMatchObject({ complete: true, held: 3, capacity: 5, order: 'newest', profile: 'tlp-generic' });
    expect(download).not.toHaveProperty('cut');
  });

  it('of a memory with the oldest first is that of the slots', () => {
    const { image } = decode(
      HELLO,
      `100 < ${meter('cap=5 held=3 order=oldest')}`,
      '200 > READ',
      told(300, rec(1, 1), rec(2, 2), rec(3, 3)),
    );
    expect(image).toEqual(['1:01', '2:02', '3:03']);
  });

  it('of a ring begins at the slot that is written next', () => {
    const ring = [rec(1, 4), rec(2, 5), rec(3, 3)];
    const { image } = decode(
      HELLO,
      `100 < ${meter('cap=3 held=3 order=ring next=3')}`,
      '200 > READ',
      told(300, ...ring),
    );
    expect(image).toEqual(['3:03', '1:04', '2:05']);
  });

  it.each([
    ['running numbers', [rec(1, 4), rec(2, 5), rec(3, 3)]],
    ['stamps', [anonymous(1, 4), anonymous(2, 5), anonymous(3, 3)]],
    ['loss counts', [`${anonymous(1, 1)} c=2`, `${anonymous(2, 5)} c=2`, `${anonymous(3, 3)} c=1`]],
  ])('of a ring that does not say its next slot begins where %s go back', (_, ring) => {
    const { image } = decode(HELLO, `100 < ${meter('cap=3 held=3 order=ring')}`, '200 > READ', told(300, ...ring));
    expect(image[0]).toBe('3:03');
  });

  it('of a ring whose stamps go back more than once is that of the slots', () => {
    const ring = [anonymous(1, 4), anonymous(2, 2), anonymous(3, 3), anonymous(4, 1)];
    const { image } = decode(HELLO, `100 < ${meter('cap=4 held=4 order=ring')}`, '200 > READ', told(300, ...ring));
    expect(image).toEqual(['1:04', '2:02', '3:03', '4:01']);
  });
});

describe('what is whole, and where holes are', () => {
  const METER = `100 < ${meter('cap=9 held=4 order=newest')}`;
  const recs = [rec(1, 4), rec(2, 3), rec(3, 2), rec(4, 1)];

  it('takes a memory that was told in ranges for whole, once all of them are proven', () => {
    const first = ['200 > READ from=1 to=2', ...told(300, recs[0] ?? '', recs[1] ?? '')];
    const second = ['700 > READ from=3 to=9', ...told(800, recs[2] ?? '', recs[3] ?? '')];
    expect(decode(HELLO, METER, first, second)).toMatchObject({
      download: { complete: true },
      image: ['4:01', '3:02', '2:03', '1:04'],
    });
    expect(decode(HELLO, METER, first)).toMatchObject({
      download: { complete: false },
      image: ['hole 2', '2:03', '1:04'],
    });
    expect(decode(HELLO, METER, first, second.slice(0, -1)).download).toMatchObject({
      complete: false,
      cut: 'cut-off',
    });
  });

  it('does not call a memory whole whose END is missing, though every slot was told', () => {
    const { download, image } = decode(HELLO, METER, '200 > READ', told(300, ...recs).slice(0, -1));
    expect(download).toMatchObject({ complete: false, cut: 'cut-off' });
    expect(image).toEqual(['4:01', '3:02', '2:03', '1:04']);
  });

  it('puts a hole between the slots that were told, and joins neighbouring ones', () => {
    const damaged = [
      '300 < !REC i=1 n=4 t=bad*0000\r\n',
      `400 < ${recs[1]}`,
      '500 < !REC*1\r\n',
      '600 < !REC*2\r\n',
      `700 < ${end(...recs)}`,
    ];
    const { download, image } = decode(HELLO, METER, '200 > READ', damaged);
    expect(image).toEqual(['hole 2', '2:03', 'hole 1']);
    expect(download).toMatchObject({ complete: false, cut: 'damaged', stats: { damagedLines: 3 } });
  });

  it('makes the proof of the whole hold with slots that were fetched again', () => {
    const first = [
      `300 < ${recs[0]}`,
      '400 < !REC i=2*0000\r\n',
      `500 < ${recs[2]}`,
      `600 < ${recs[3]}`,
      `700 < ${end(...recs)}`,
    ];
    const { download } = decode(HELLO, METER, '200 > READ', first, '800 > READ from=2 to=2', told(900, recs[1] ?? ''));
    expect(download).toMatchObject({ complete: true, stats: { damagedLines: 1, retries: 1 } });
  });

  it('says that the count differs, or the sum', () => {
    const missing = decode(HELLO, METER, '200 > READ', `300 < ${recs[0]}`, `400 < ${end(...recs)}`);
    expect(missing.download).toMatchObject({ complete: false, cut: 'count-differs' });
    const wrong = decode(HELLO, METER, '200 > READ', told(300, ...recs).slice(0, 4), '700 < END n=4 x=0000');
    expect(wrong.download).toMatchObject({ complete: false, cut: 'proof-differs' });
  });

  it('does not call an answer whole that proves fewer results than the meter holds', () => {
    const { download, image } = decode(HELLO, METER, '200 > READ', told(300, recs[0] ?? '', recs[1] ?? ''));
    expect(download.complete).toBe(false);
    expect(image).toEqual(['2:03', '1:04']);
  });

  it('limits the holes of a ring by what the meter says it holds', () => {
    const ring = [rec(1, 1), rec(2, 2), rec(5, 3)];
    const script = ['200 > READ', ...told(300, ...ring).slice(0, -1)];
    expect(decode(HELLO, `100 < ${meter('cap=6 held=5 order=ring next=6')}`, script).image).toEqual([
      'hole 1',
      '1:01',
      '2:02',
      'hole 2',
      '5:03',
    ]);
    expect(decode(HELLO, `100 < ${meter('cap=6 held=3 order=ring next=6')}`, script).image).toEqual([
      '1:01',
      '2:02',
      '5:03',
    ]);
  });

  it('knows a slot of a proven range that was not told to be empty', () => {
    const ring = [rec(1, 1), rec(3, 2)];
    const { download, image } = decode(
      HELLO,
      `100 < ${meter('cap=3 held=2 order=ring next=1')}`,
      '200 > READ',
      told(300, ...ring),
    );
    expect(download.complete).toBe(true);
    expect(image).toEqual(['1:01', '3:02']);
  });

  it('drops a result whose line breaks the rules, counts it, and leaves a hole', () => {
    const bent = rec(2, 3).replace(' u={INR}', '');
    const { download, image } = decode(HELLO, METER, '200 > READ', told(300, rec(1, 4), bent, rec(3, 2), rec(4, 1)));
    expect(image).toEqual(['4:01', '3:02', 'hole 1', '1:04']);
    expect(download).toMatchObject({ complete: false, cut: 'damaged', stats: { damagedLines: 1 } });
  });

  it('tells of an empty memory that it is whole, once END has said so', () => {
    const EMPTY = `100 < ${meter('cap=9 held=0 order=newest')}`;
    expect(decode(HELLO, EMPTY).download.complete).toBe(false);
    expect(decode(HELLO, EMPTY, '200 > READ', told(300)).download).toMatchObject({ complete: true, image: [] });
  });
});

describe('captures of other hosts', () => {
  const recs = [rec(1, 2), rec(2, 1)];

  it('are understood where only the bytes of the meter were kept', () => {
    const { download, image } = decode(`500 < ${meter('cap=9 held=2 order=newest')}`, told(900, ...recs));
    expect(download).toMatchObject({ complete: true, at: OPENED });
    expect(download.clock).toMatchObject([{ kind: 'anchor', from: OPENED, to: OPENED + 500 }]);
    expect(image).toEqual(['2:01', '1:02']);
  });

  it('are understood where ranges were told and the questions were not kept', () => {
    const METER = `500 < ${meter('cap=9 held=4 order=oldest')}`;
    const { download, image } = decode(METER, told(900, rec(1, 1), rec(2, 2)), told(1300, rec(3, 3), rec(4, 4)));
    expect(image).toEqual(['1:01', '2:02', '3:03', '4:04']);
    expect(download.complete).toBe(true);
  });

  it('are understood however their chunks are cut', () => {
    const whole = captureOf([
      HELLO,
      `100 < ${meter('cap=9 held=2 order=newest')}`,
      '200 > READ',
      ...told(300, ...recs),
    ]);
    const plain = decodeLine(whole, FACTS);
    const bytes = whole.chunks.flatMap((c) => [...c.data].map((byte) => ({ ...c, data: Uint8Array.of(byte) })));
    expect(decodeLine({ ...whole, chunks: bytes }, FACTS)).toEqual(plain);
  });

  it('may poll the clock: each reading is an anchor between its question and its answer', () => {
    const { download } = decode(
      '0 > HELLO v=1',
      '900 > HELLO v=1',
      `1000 < ${meter('cap=9 held=0 order=newest')}`,
      '2000 > CLOCK',
      '2100 < CLOCK t=2026-03-02T10:00:02',
      '3000 > CLOCK',
      '3050 < CLOCK t=-',
    );
    expect(download.clock).toMatchObject([
      { kind: 'anchor', from: OPENED, to: OPENED + 1000 },
      { kind: 'anchor', shown: { text: '2026-03-02T10:00:02' }, from: OPENED + 2000, to: OPENED + 2100 },
      { kind: 'unset', from: OPENED + 3000, to: OPENED + 3050 },
    ]);
    expect(download).toMatchObject({ at: OPENED, stats: { retries: 1 } });
  });

  it.each([
    ['confirmed', ['5100 < CLOCK t=2026-03-02T10:00:05']],
    ['refused', ['5100 < CLOCK t=2000-01-01T00:00:00']],
    ['refused', ['5100 < ERR e=unknown']],
    ['unknown', ['6000 > BYE', '6100 < BYE']],
  ])('may set the clock: the setting is %s by what the meter answers', (outcome, answer) => {
    const { download } = decode(
      HELLO,
      `100 < ${meter('cap=9 held=0 order=newest')}`,
      '5000 > SET t=2026-03-02T10:00:05',
      answer,
    );
    expect(download.clock[1]).toMatchObject({
      kind: 'set',
      asked: Date.UTC(2026, 2, 2, 10, 0, 5),
      from: OPENED + 5000,
      outcome,
    });
  });

  it('may set it twice, when the first answer was lost', () => {
    const { download } = decode(
      HELLO,
      `100 < ${meter('cap=9 held=0 order=newest')}`,
      '5000 > SET t=2026-03-02T10:00:05',
      '7000 > SET t=2026-03-02T10:00:07',
      '7100 < CLOCK t=2026-03-02T10:00:07',
    );
    expect(download.clock.slice(1)).toMatchObject([
      { kind: 'set', outcome: 'unknown', from: OPENED + 5000, to: OPENED + 7000 },
      { kind: 'set', outcome: 'confirmed', from: OPENED + 7000 },
      { kind: 'anchor', from: OPENED + 5000, to: OPENED + 7100 },
    ]);
  });

  it('name the profile’s analytes and units instead of the meter’s own', () => {
    const capture = captureOf([
      HELLO,
      `100 < ${meter('cap=9 held=1 order=newest')}`,
      '200 > READ',
      ...told(300, rec(1, 1)),
    ]);
    const [download] = decodeLine(capture, {
      name: 'own',
      analytes: { INR: 'PT' },
      units: { '{INR}': '1' },
      resolution: 'days',
    });
    const item = download?.image[0];
    expect(item?.kind === 'test' && item.test).toMatchObject({
      values: [{ analyte: 'PT', value: '2.1', unit: '1' }],
      meterTime: { resolutionMs: 86_400_000 },
    });
  });
});

describe('tests sent unasked', () => {
  const METER = `100 < ${meter('cap=4 held=2 order=newest')}`;
  const READ = ['200 > READ', ...told(300, rec(1, 2), rec(2, 1))];

  it('after the memory was told are fresh, with places of their own', () => {
    const { download, image } = decode(HELLO, METER, READ, `9000 < ${rec(1, 3, 'NEW')}`, `99000 < ${rec(1, 4, 'NEW')}`);
    expect(image).toEqual(['2:01', '1:02']);
    expect(download.fresh.map((t) => [t.place, t.runNumber])).toEqual([
      ['n1', 3],
      ['n2', 4],
    ]);
    expect(download).toMatchObject({ complete: true, held: 2 });
  });

  it('before the memory was told are in it already', () => {
    const { download, image } = decode(
      HELLO,
      METER,
      `150 < ${rec(1, 3, 'NEW')}`,
      '200 > READ',
      told(300, rec(1, 3), rec(2, 2), rec(3, 1)),
    );
    expect(image).toEqual(['3:01', '2:02', '1:03']);
    expect(download).toMatchObject({ complete: true, fresh: [], held: 3 });
  });

  it.each(['newest', 'oldest', 'ring'] as const)('between two ranges move the slots as the order %s says', (order) => {
    // Four results; the first two slots are told, then a test is made, then the rest is told.
    const first = order === 'newest' ? [rec(1, 4), rec(2, 3)] : [rec(1, 1), rec(2, 2)];
    const rest = order === 'newest' ? [rec(3, 3), rec(4, 2), rec(5, 1)] : [rec(3, 3), rec(4, 4), rec(5, 5)];
    const made = rec(order === 'newest' ? 1 : 5, 5, 'NEW');
    const next = order === 'ring' ? ' next=5' : '';
    const { download, image } = decode(
      HELLO,
      `100 < ${meter(`cap=9 held=4 order=${order}${next}`)}`,
      '200 > READ from=1 to=2',
      told(300, ...first),
      `700 < ${made}`,
      '800 > READ from=3 to=9',
      told(900, ...rest),
    );
    expect(image.map((text) => text.split(':')[1])).toEqual(['01', '02', '03', '04', '05']);
    expect(download).toMatchObject({ complete: true, fresh: [], held: 5 });
  });

  it.each([
    ['newest', [rec(1, 3), rec(2, 2)], rec(1, 4, 'NEW')],
    ['oldest', [rec(1, 2), rec(2, 3)], rec(2, 4, 'NEW')],
    ['ring', [rec(1, 3), rec(2, 2)], `${rec(2, 4, 'NEW')}`],
  ])('that overwrite a told result in a full memory (%s) lose neither', (order, recs, made) => {
    const next = order === 'ring' ? ' next=2' : '';
    const after: Record<string, string[]> = {
      newest: [rec(1, 4), rec(2, 3)],
      oldest: [rec(1, 3), rec(2, 4)],
      ring: [rec(1, 3), rec(2, 4)],
    };
    const { download, image } = decode(
      HELLO,
      `100 < ${meter(`cap=2 held=2 order=${order}${next}`)}`,
      '200 > READ',
      told(300, ...recs),
      `700 < ${made}`,
      '800 > READ',
      told(900, ...(after[order] ?? [])),
    );
    expect(image.map((text) => text.split(':')[1])).toEqual(['02', '03', '04']);
    expect(download).toMatchObject({ complete: true, fresh: [] });
  });

  it.each([true, false])('in the middle of an answer are there once (live memory: %s)', (isLive) => {
    const rest = isLive ? [anonymous(3, 2), anonymous(4, 1)] : [anonymous(3, 1)];
    const recs = [anonymous(1, 3), anonymous(2, 2), ...rest];
    const lines = told(300, ...recs);
    const script = [...lines.slice(0, 2), `450 < ${anonymous(1, 4, 'NEW')}`, ...lines.slice(2)];
    const { download, image } = decode(HELLO, `100 < ${meter('cap=9 held=3 order=newest')}`, '200 > READ', script);
    const days = [
      ...image.map((text) => text.split(':')[1]),
      ...download.fresh.map((t) => t.meterTimeText.slice(8, 10)),
    ];
    expect(days).toEqual(['01', '02', '03', '04']);
    expect(download.complete).toBe(true);
  });

  it('are kept where the memory could not be told after them', () => {
    const { download, image } = decode(
      HELLO,
      METER,
      READ,
      `900 < ${rec(1, 3, 'NEW')}`,
      '1000 > READ',
      `1100 < ${rec(1, 3)}`,
    );
    expect(image).toEqual(['3:01', '2:02', '1:03']);
    expect(download.fresh).toEqual([]);
  });
});

describe('more than one meter on a port', () => {
  const A = meter('cap=9 held=2 order=newest');
  const B = meter('cap=9 held=1 order=newest', 'SN2');

  it('makes one download each, and the first goes on when it comes back', () => {
    const { downloads } = decode(
      HELLO,
      `100 < ${A}`,
      '200 > READ',
      told(300, rec(1, 2), rec(2, 1)),
      '5000 > HELLO v=1',
      `5100 < ${B}`,
      '5200 > READ',
      told(5300, rec(1, 9)),
      '9000 > HELLO v=1',
      `9100 < ${A}`,
      `9500 < ${rec(1, 3, 'NEW')}`,
    );
    expect(downloads.map((d) => [d.meter.id, d.complete, d.image.length, d.fresh.length])).toEqual([
      ['SN1', true, 2, 1],
      ['SN2', true, 1, 0],
    ]);
    expect(downloads[1]).toMatchObject({ at: OPENED + 5000 });
  });

  it('leaves out what came after a silence, unless END or the meter’s name proves it', () => {
    const silent = ['200 > READ', `300 < ${rec(1, 2)}`, `2300 < ${rec(2, 1)}`];
    const doubtful = decode(HELLO, `100 < ${A}`, silent);
    expect(doubtful.download).toMatchObject({ complete: false, cut: 'identity-doubtful' });
    expect(doubtful.image).toEqual(['hole 1', '1:02']);
    expect(decode(HELLO, `100 < ${A}`, silent, `2400 < ${end(rec(1, 2), rec(2, 1))}`).download.complete).toBe(true);
    expect(decode(HELLO, `100 < ${A}`, silent, '4000 > HELLO v=1', `4100 < ${A}`).image).toEqual(['2:01', '1:02']);
    const swapped = decode(HELLO, `100 < ${A}`, silent, '4000 > HELLO v=1', `4100 < ${B}`);
    expect(swapped.image).toEqual(['hole 1', '1:02']);
  });

  it('leaves out the answer to a repeated question, unless END or the meter’s name proves it', () => {
    const repeated = ['200 > READ', '2200 > READ', `2300 < ${rec(1, 2)}`];
    expect(decode(HELLO, `100 < ${A}`, repeated).download).toMatchObject({
      cut: 'identity-doubtful',
      image: [{ kind: 'hole' }],
    });
    const proven = decode(HELLO, `100 < ${A}`, '200 > READ', '2200 > READ', told(2300, rec(1, 2), rec(2, 1)));
    expect(proven.download).toMatchObject({ complete: true, stats: { retries: 1 } });
  });

  it('tells apart meters of one serial number by their model', () => {
    const other = B.replace('id=SN2', 'id=SN1').replace('GM-10', 'GM-20');
    const { downloads } = decode(HELLO, `100 < ${A}`, '5000 > HELLO v=1', `5100 < ${other}`);
    expect(downloads.map((d) => d.meter.model)).toEqual(['GM-10', 'GM-20']);
  });

  it('gives nothing where no meter said its name', () => {
    expect(decodeLine(captureOf([HELLO, `100 < ${rec(1, 1)}`]), FACTS)).toEqual([]);
    expect(decodeLine(captureOf([]), FACTS)).toEqual([]);
  });
});
