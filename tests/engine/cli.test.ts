import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWavLayout } from '../../shared/take/wav-layout.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { freeTimes, plucks } from './plucks.ts';
import { buildCommand, type Command, refusalBy, saveWav } from './run-command.ts';

let command: Command;
const at = (...path: string[]) => command.at(...path);
const run = (...args: string[]) => command.run(...args);
const wav = (path: string) => readWav(readFileSync(at(path)), path);
const refusal = (code: number, ...args: string[]) => refusalBy(command, code, ...args);
const json = (path: string, value: unknown) => writeFileSync(at(path), JSON.stringify(value));

const times = freeTimes(20);
const seconds = 11;
const take = plucks(times, seconds, 0.3);
const low = plucks(times, seconds, 0.2, -12);

/** Samples added up, on the grid of 24 bits: so that a sum of stems is the mix exactly. */
function sum(...parts: readonly Audio[]): Audio {
  const channels = parts[0].channels.map((channel, c) =>
    channel.map((_, i) => parts.reduce((total, part) => total + part.channels[c][i], 0)),
  );
  return { sampleRate: parts[0].sampleRate, channels };
}

beforeAll(async () => {
  command = await buildCommand();
  saveWav(at('take.wav'), take, '16');
  saveWav(at('high.wav'), take, '32f');
  saveWav(at('low.wav'), low, '32f');
  saveWav(at('mix.wav'), sum(take, low), '32f');
  const map = {
    anchors: [
      { from: 0.5, to: 0.6 },
      { from: 5, to: 6.1 },
      { from: 9, to: 9 },
    ],
    seconds: 11.003,
  };
  json('map.json', map);
  json('still.json', { anchors: [{ from: 1, to: 1 }], seconds, unknown: true });
});
afterAll(() => command.clean());

describe('hear', () => {
  test('prints what the contract promises', () => {
    const ran = run('hear', 'take.wav', '--stem', 'take.wav');
    expect(ran).toMatchObject({ code: 0, err: '' });
    const heard = JSON.parse(ran.out);
    expect(heard).toMatchObject({
      version: 1,
      take: { sampleRate: 44100, channels: 2, seconds },
      tempo: {
        medianBpm: expect.any(Number),
        minBpm: expect.any(Number),
        maxBpm: expect.any(Number),
      },
      tuning: { a4: expect.any(Number), cents: expect.any(Number), confidence: expect.any(Number) },
      key: { tonic: expect.any(String), mode: expect.any(String), confidence: expect.any(Number) },
      loudness: {
        integrated: expect.any(Number),
        range: expect.any(Number),
        truePeak: expect.any(Number),
      },
    });
    expect(heard.onsets[0]).toEqual({ time: expect.any(Number), strength: expect.any(Number) });
    expect(heard.beats[0]).toMatchObject({ count: expect.any(Number), by: 'heard' });
    expect(heard.phrases[0]).toMatchObject({
      start: expect.any(Number),
      energy: expect.any(Number),
    });
    for (const slice of heard.slices) {
      expect(slice.start).toBeLessThanOrEqual(slice.landing);
      expect(slice.landing).toBeLessThan(slice.end);
    }
    const late = times.filter(
      (time) => !heard.onsets.some((onset: { time: number }) => Math.abs(onset.time - time) < 0.01),
    );
    expect(late.length).toBeLessThanOrEqual(1);
  });

  test('writes to a file instead, holds fixes exactly, and cuts more when asked', () => {
    json('fixes.json', { fixes: [{ beat: 3.2101 }, { one: 3.2101 }], more: 1 });
    const few = run('hear', 'take.wav', '--fixes', 'fixes.json', '--cuts', '0', '--to', 'few.json');
    expect(few).toEqual({ code: 0, out: '', err: '' });
    expect(run('hear', 'take.wav', '--cuts', '100', '--to', 'many.json').code).toBe(0);
    const read = (path: string) => JSON.parse(readFileSync(at(path), 'utf8'));
    expect(read('few.json').beats).toContainEqual(
      expect.objectContaining({ time: 3.2101, count: 1 }),
    );
    expect(read('few.json').slices.length).toBeLessThan(read('many.json').slices.length);
  });

  test.each(['mp3', 'ogg'])('reads %s, its attacks where they were played', (kind) => {
    const path = fileURLToPath(new URL(`../app/compressed/plucks.${kind}`, import.meta.url));
    const { code, out } = run('hear', path);
    expect(code).toBe(0);
    const heard = JSON.parse(out);
    expect(heard.take).toEqual({ sampleRate: 44100, channels: 2, seconds: 3 });
    for (const attack of [0.4, 0.9, 1.5, 2.0, 2.45]) {
      const near = heard.onsets.map((onset: { time: number }) => Math.abs(onset.time - attack));
      expect(Math.min(...near)).toBeLessThan(0.01);
    }
  });

  test.each([
    [
      'mp3',
      /^unclicked: cut\.mp3 is cut off: it promises 3\.00 s of sound and holds 1\.[45]\d s; [^\n]+\n$/,
    ],
    ['ogg', /^unclicked: cut\.ogg is cut off: its end is missing after \d\.\d\d s; [^\n]+\n$/],
  ])('what is there of a cut off %s is used, and that is said in a line', (kind, sentence) => {
    const path = fileURLToPath(new URL(`../app/compressed/plucks.${kind}`, import.meta.url));
    const whole = readFileSync(path);
    writeFileSync(at(`cut.${kind}`), whole.subarray(0, whole.length * 0.52));
    const { code, out, err } = run('hear', `cut.${kind}`);
    expect(code).toBe(0);
    expect(err).toMatch(sentence);
    expect(JSON.parse(out).take.seconds).toBeLessThan(2.9);
  });

  test('silence is heard as nothing, without an error', () => {
    const quiet = { sampleRate: 44100, channels: [new Float32Array(44100 * 2)] };
    saveWav(at('silence.wav'), quiet, '16');
    const heard = JSON.parse(run('hear', 'silence.wav').out);
    expect(heard.onsets).toEqual([]);
    expect(heard.tempo.medianBpm).toBeNull();
    expect(heard.loudness.integrated).toBeNull();
  });
});

describe('warp', () => {
  test('where time is not bent the samples come back bit for bit, whatever their width', () => {
    for (const bits of ['16', '24', '32f'] as const) {
      saveWav(at(`same-${bits}.wav`), take, bits);
      const to = `same-${bits}.out.wav`;
      expect(run('warp', `same-${bits}.wav`, '--map', 'still.json', '--to', to).code).toBe(0);
      expect(Buffer.compare(readFileSync(at(to)), readFileSync(at(`same-${bits}.wav`)))).toBe(0);
    }
  });

  test('several parts go to a folder under their names, and add up to the warp of their sum', () => {
    const args = ['high.wav', 'low.wav', '--map', 'map.json', '--to', 'parts'];
    expect(run('warp', ...args)).toEqual({ code: 0, out: '', err: '' });
    expect(readdirSync(at('parts')).sort()).toEqual(['high.wav', 'low.wav']);
    expect(run('warp', 'mix.wav', '--map', 'map.json', '--to', 'mix.out.wav').code).toBe(0);
    const together = sum(wav('parts/high.wav').audio, wav('parts/low.wav').audio);
    const mix = wav('mix.out.wav').audio;
    let worst = 0;
    mix.channels.forEach((channel, c) => {
      expect(channel.length).toBe(Math.round(11.003 * 44100));
      channel.forEach((v, i) => {
        worst = Math.max(worst, Math.abs(v - together.channels[c][i]));
      });
    });
    expect(20 * Math.log10(worst)).toBeLessThan(-100);
  });

  test('--bits says how the result is stored; the same call gives the same bytes', () => {
    const warp = (to: string) =>
      run('warp', 'mix.wav', '--map', 'map.json', '--to', to, '--bits', '16');
    expect(warp('a16.wav').code).toBe(0);
    expect(warp('b16.wav').code).toBe(0);
    expect(wav('a16.wav')).toMatchObject({ bits: 16, float: false });
    expect(Buffer.compare(readFileSync(at('a16.wav')), readFileSync(at('b16.wav')))).toBe(0);
  });
});

test('straighten sets the first beat at the start, after the lead', () => {
  expect(
    run('straighten', 'take.wav', '--bpm', '110', '--to', 's.wav', '--lead', '0.25').code,
  ).toBe(0);
  const { audio, bits } = wav('s.wav');
  expect(bits).toBe(16);
  const heard = JSON.parse(run('hear', 's.wav').out);
  const onsets: { time: number }[] = heard.onsets;
  // 6 ms is what people just hear in a regular sequence (Friberg and Sundberg, JASA 98(5), 1995).
  const off = times.map((_, i) => {
    const beat = 0.25 + (i * 60) / 110;
    return Math.min(...onsets.map((onset) => Math.abs(onset.time - beat)));
  });
  expect(off.filter((d) => d > 0.006).length).toBeLessThanOrEqual(1);
  expect(audio.channels.length).toBe(2);
});

describe('tune', () => {
  test('brings a take to the A asked for, as long as before, and stems by the same amount', () => {
    const heard = (path: string) => JSON.parse(run('hear', path).out).tuning.a4 as number;
    expect(run('tune', 'take.wav', '--a4', '444', '--to', 'tuned.wav').code).toBe(0);
    expect(wav('tuned.wav').audio.channels[0].length).toBe(take.channels[0].length);
    // Two cents are half a hertz at A4.
    expect(Math.abs(heard('tuned.wav') - 444)).toBeLessThan(0.55);
    expect(run('tune', 'take.wav', '--cents', '0', '--to', 'same.wav').code).toBe(0);
    expect(Buffer.compare(readFileSync(at('same.wav')), readFileSync(at('take.wav')))).toBe(0);
  });

  test('takes a number below zero behind its option, with and without an equals sign', () => {
    expect(run('tune', 'take.wav', '--cents', '-20', '--to', 'apart.wav').err).toBe('');
    expect(run('tune', 'take.wav', '--cents=-20', '--to', 'joined.wav').err).toBe('');
    const [apart, joined] = ['apart.wav', 'joined.wav'].map((path) => readFileSync(at(path)));
    expect(Buffer.compare(apart, joined)).toBe(0);
    expect(refusal(2, 'tune', 'take.wav', '--cents', '-200', '--to', 'x.wav')).toMatch(
      /--cents is -200.*-100 to 100/,
    );
    expect(refusal(2, 'tune', 'take.wav', '--cents', '--to', 'x.wav')).toMatch(/--cents/);
  });

  test('says so where no tuning can be heard, or two wishes collide', () => {
    saveWav(at('hush.wav'), { sampleRate: 44100, channels: [new Float32Array(44100)] }, '16');
    expect(refusal(3, 'tune', 'hush.wav', '--to', 'x.wav')).toMatch(/can't be heard/);
    const both = ['--a4', '440', '--cents', '5', '--to', 'x.wav'];
    expect(refusal(2, 'tune', 'take.wav', ...both)).toMatch(/does not go with/);
  });
});

describe('projects', () => {
  const lane = {
    bars: 1,
    beatsPerBar: 4,
    beatUnit: 4,
    bpm: 112,
    steady: 100,
    tighten: 0,
    grid: '16',
    swing: 50,
  };
  const length = Math.round(((4 * 60) / 112) * 44100);
  beforeAll(async () => {
    const source = (path: string) => {
      const bytes = readFileSync(at(path));
      const hash = createHash('sha256').update(bytes).digest('hex');
      return { hash, name: path, sampleRate: 44100, channels: 2, seconds, bytes: () => bytes };
    };
    const [mix, high, bass] = ['mix.wav', 'high.wav', 'low.wav'].map(source);
    const slices = times.slice(0, -1).map((time, i) => ({
      id: `s${i}`,
      start: time - 0.005,
      landing: time,
      end: times[i + 1] - 0.006,
    }));
    const document = {
      version: 1,
      id: 'p',
      name: 'Evening',
      created: '2026-03-04T05:06:08.000Z',
      changed: '2026-03-04T05:06:08.000Z',
      take: mix,
      stems: [
        { ...high, label: 'High', variant: null },
        { ...bass, label: 'Low', variant: null },
      ],
      fixes: [],
      cuts: 50,
      slices,
      pads: [],
      lanes: [
        {
          ...lane,
          id: 'l1',
          name: 'straight',
          source: { kind: 'straight', from: times[2], until: times[6] },
        },
        {
          ...lane,
          id: 'l2',
          name: 'flip',
          source: {
            kind: 'flip',
            placements: [3, 1, 2, 0].map((k, i) => ({ id: `p${i}`, slice: `s${k}`, at: i })),
          },
        },
      ],
    };
    const pieces: Uint8Array[] = [];
    for await (const piece of writeProjectZip(
      JSON.stringify(document),
      [mix, high, bass],
      document.changed,
    ))
      pieces.push(piece);
    writeFileSync(at('project.zip'), Buffer.concat(pieces));
    mkdirSync(at('open', 'audio'), { recursive: true });
    writeFileSync(at('open', 'project.json'), JSON.stringify({ ...document, version: 999 }));
  });

  test('loop renders a lane to its exact length, by place or by name', () => {
    expect(run('loop', 'project.zip', '--to', 'loop.wav')).toEqual({ code: 0, out: '', err: '' });
    expect(run('loop', 'project.zip', '--to', 'flip.wav', '--lane', 'flip').code).toBe(0);
    expect(wav('loop.wav').audio.channels[0].length).toBe(length);
    expect(wav('flip.wav').audio.channels[0].length).toBe(length);
    const chunks = readWavLayout(readFileSync(at('loop.wav')), 'loop.wav').chunks;
    expect(chunks.map((chunk) => chunk.id)).toEqual([
      'fmt ',
      'fact',
      'bext',
      'smpl',
      'cue ',
      'LIST',
      'LIST',
      'id3 ',
    ]);
    expect(Buffer.compare(readFileSync(at('loop.wav')), readFileSync(at('flip.wav')))).not.toBe(0);
    expect(refusal(2, 'loop', 'project.zip', '--to', 'x.wav', '--lane', 'nine')).toMatch(
      /no lane nine/,
    );
  });

  test('loop --stems writes mix and stems, and they add up', () => {
    expect(run('loop', 'project.zip', '--to', 'stems', '--stems', '--lane', '2').code).toBe(0);
    expect(readdirSync(at('stems')).sort()).toEqual(['High.wav', 'Low.wav', 'mix.wav']);
    const together = sum(wav('stems/High.wav').audio, wav('stems/Low.wav').audio);
    const [mix] = wav('stems/mix.wav').audio.channels;
    expect(mix.length).toBe(length);
    expect(Math.max(...mix.map((v, i) => Math.abs(v - together.channels[0][i])))).toBeLessThan(
      1e-5,
    );
  });

  test('pack writes one archive with all three deliveries', () => {
    expect(run('pack', 'project.zip', '--to', 'pack.zip')).toEqual({ code: 0, out: '', err: '' });
    const names = Object.keys(unzipSync(readFileSync(at('pack.zip'))));
    for (const part of ['take/mix.wav', 'take/tempo map.mid', 'report.html', 'manifest.json'])
      expect(names).toContain(`Evening/${part}`);
    expect(names.filter((name) => name.startsWith('Evening/loops/')).length).toBe(8);
    expect(names.filter((name) => name.startsWith('Evening/slices/')).length).toBe(19);
    expect(run('pack', 'project.zip', '--to', 'again.zip').code).toBe(0);
    expect(Buffer.compare(readFileSync(at('pack.zip')), readFileSync(at('again.zip')))).toBe(0);
  });

  test('pack and loop do what the project wishes, and what is said besides goes before it', () => {
    const document = JSON.parse(readFileSync(at('open', 'project.json'), 'utf8'));
    const pack = { title: 'Low Tide', artist: 'Ada', bits: '16', loopName: '{stem} {bpm}' };
    for (const part of ['mix', 'high', 'low']) {
      const bytes = readFileSync(at(`${part}.wav`));
      const hash = createHash('sha256').update(bytes).digest('hex');
      writeFileSync(at('open', 'audio', `${hash}.wav`), bytes);
    }
    const [high, low] = document.stems;
    // The second stem as another version of the first: told apart everywhere, warped by the same map.
    const stems = [high, { ...low, label: 'High', variant: 'wet' }];
    const wished = { ...document, version: 1, pack, stems };
    writeFileSync(at('open', 'wishes.json'), JSON.stringify(wished));
    const over = ['--rate', '48000', '--bits', '24', '--slice-name', '{line} {place}'];
    expect(run('pack', 'open/wishes.json', '--to', 'wishes.zip', ...over).code).toBe(0);
    const files = unzipSync(readFileSync(at('wishes.zip')));
    const manifest = JSON.parse(new TextDecoder().decode(files['Low Tide/manifest.json']));
    expect(manifest).toMatchObject({ name: 'Low Tide', artist: 'Ada' });
    expect(manifest.lanes[0].files.map((f: { file: string }) => f.file)).toEqual([
      'loops/straight/mix 112.wav',
      'loops/straight/High 112.wav',
      'loops/straight/High wet 112.wav',
    ]);
    const versions = manifest.stems.map((f: { part: string; variant: string }) => [
      f.part,
      f.variant,
    ]);
    expect(versions).toEqual([
      ['High', null],
      ['High', 'wet'],
    ]);
    expect(manifest.lanes[0].files[0]).toMatchObject({ bits: '24', sampleRate: 48000 });
    expect(manifest.slices[0].files[0]).toMatchObject({ bits: '24', sampleRate: 48000 });
    expect(manifest.slices[0].files[0].file).toMatch(/^slices\/\d\d \d\d\.wav$/);
    expect(refusal(2, 'pack', 'project.zip', '--to', 'x.zip', '--loop-name', '{x}')).toMatch(
      /\{x\} stands for nothing/,
    );
    expect(refusal(2, 'pack', 'project.zip', '--to', 'x.zip', '--rate', '44100.5')).toMatch(
      /whole number/,
    );
    expect(run('loop', 'open/wishes.json', '--to', 'versions', '--stems').code).toBe(0);
    expect(readdirSync(at('versions')).sort()).toEqual(['High wet.wav', 'High.wav', 'mix.wav']);
    const parts = ['High', 'High wet', 'mix'].map((name) => wav(`versions/${name}.wav`).audio);
    const apart = sum(parts[0], parts[1]).channels[0].map((v, i) => v - parts[2].channels[0][i]);
    // 16 bits in each of the three: half a step of rounding and up to one of dither.
    expect(Math.max(...apart.map(Math.abs))).toBeLessThan((3 * 1.5) / 32768);
    expect(wav('versions/mix.wav').bits).toBe(16);
  });

  test.each([
    ['SIGINT', 130],
    // A terminal that is closed sends this one.
    ['SIGHUP', 129],
  ] as const)('a pack that is told to stop by %s leaves nothing behind', async (signal, code) => {
    const { process: packing, ended } = command.start('pack', 'project.zip', '--to', 'stopped.zip');
    const parts = () => readdirSync(command.folder).filter((name) => name.endsWith('.part'));
    while (parts().length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
    packing.kill(signal);
    expect(await ended).toBe(code);
    expect(parts()).toEqual([]);
    expect(readdirSync(command.folder)).not.toContain('stopped.zip');
  });

  test('a project of a newer version is a clear sentence', () => {
    expect(refusal(3, 'loop', 'open/project.json', '--to', 'x.wav')).toMatch(/newer version/);
  });

  test('nothing half written is left anywhere', () => {
    expect(readdirSync(command.folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  });
});
