import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { buildCommand, type Command, freeTimes, plucks, saveWav } from './run-command.ts';

let command: Command;
const at = (...path: string[]) => command.at(...path);
const run = (...args: string[]) => command.run(...args);
const wav = (path: string) => readWav(readFileSync(at(path)), path);
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
afterAll(() => rmSync(command.folder, { recursive: true, force: true }));

/** One line on stderr, nothing on stdout, and the exit code that the contract says. */
function refusal(code: number, ...args: string[]): string {
  const ran = run(...args);
  expect(ran.code, ran.err).toBe(code);
  expect(ran.out).toBe('');
  expect(ran.err).toMatch(/^unclicked: [^\n]+\.\n$/);
  return ran.err;
}

describe('wrong use ends with 2', () => {
  test.each<[string[], RegExp]>([
    [['sing'], /no verb sing/],
    [['toString'], /no verb/],
    [['hear'], /Name a take/],
    [['hear', 'a.wav', 'b.wav'], /not 2/],
    [['hear', 'take.wav', '--loud'], /--loud/],
    [['hear', 'take.wav', '--cuts', '101'], /--cuts is 101.*0 to 100/],
    [['hear', 'take.wav', '--cuts', 'many'], /--cuts is many/],
    [['hear', 'take.wav', '--cuts'], /--cuts/],
    [['warp', 'take.wav', '--to', 'out.wav'], /--map/],
    [['warp', 'take.wav', '--map', 'map.json'], /--to/],
    [['warp', 'take.wav', '--map', 'map.json', '--to', 'o.wav', '--bits', '20'], /16, 24, 32f/],
    [['warp', 'take.wav', './take.wav', '--map', 'map.json', '--to', 'o'], /called take\.wav/],
    [['straighten', 'take.wav', '--to', 'o.wav', '--swing', '90'], /50 to 80/],
    [['straighten', 'take.wav', '--to', 'o.wav', '--grid', '5'], /one of 4, 8/],
    [['straighten', 'take.wav', '--to', 'o.wav', '--from', '5', '--until', '4'], /not after/],
    [['loop', '--to', 'o.wav'], /project file/],
    [['pack', 'p.zip'], /--to/],
    [['demo'], /--to/],
  ])('%j', (args, message) => {
    expect(refusal(2, ...args)).toMatch(message);
  });

  test('nothing at all shows the verbs on stderr', () => {
    const ran = run();
    expect([ran.code, ran.out]).toEqual([2, '']);
    expect(ran.err).toContain('unclicked straighten TAKE');
  });
});

test('help is on stdout, for the command and for each verb', () => {
  expect(run('--help')).toMatchObject({ code: 0, err: '' });
  for (const verb of ['hear', 'warp', 'straighten', 'loop', 'pack', 'demo']) {
    const ran = run(verb, '--help');
    expect(ran.code).toBe(0);
    expect(ran.out).toMatch(new RegExp(`^unclicked ${verb} `));
  }
});

describe('input that makes no sense ends with 3', () => {
  test('recordings', () => {
    const bytes = readFileSync(at('take.wav'));
    writeFileSync(at('cut.wav'), bytes.subarray(0, 50000));
    writeFileSync(at('text.wav'), 'no sound, only words');
    writeFileSync(at('empty.wav'), '');
    const header = Buffer.from(bytes.subarray(0, 44));
    header.writeUInt32LE(36, 4);
    header.writeUInt32LE(0, 40);
    writeFileSync(at('zero.wav'), header);
    const audio = { sampleRate: 44100, channels: [Float32Array.of(0, Number.NaN, 0)] };
    writeFileSync(at('nan.wav'), writeWav(audio, { bits: '32f' }));
    expect(refusal(3, 'hear', 'cut.wav')).toMatch(/cut\.wav is cut off/);
    expect(refusal(3, 'hear', 'text.wav')).toMatch(/not a WAV/);
    expect(refusal(3, 'hear', 'empty.wav')).toMatch(/empty/);
    expect(refusal(3, 'hear', 'zero.wav')).toMatch(/length is zero/);
    expect(refusal(3, 'hear', 'nan.wav')).toMatch(/not a number/);
    expect(refusal(3, 'hear', 'missing.wav')).toMatch(/no such file/);
    expect(refusal(3, 'hear', '.')).toMatch(/folder/);
  });

  test('maps and fixes', () => {
    writeFileSync(at('broken.json'), '{ "anchors": [');
    json('back.json', {
      anchors: [
        { from: 1, to: 1 },
        { from: 2, to: 0.5 },
      ],
      seconds: 3,
    });
    json('endless.json', { anchors: [] });
    json('fixes.json', { fixes: [{ beat: 1 }, { beet: 2 }] });
    const warp = (map: string) => refusal(3, 'warp', 'take.wav', '--map', map, '--to', 'o.wav');
    expect(warp('broken.json')).toMatch(/not JSON/);
    expect(warp('back.json')).toMatch(/backwards at anchor 1/);
    expect(warp('endless.json')).toMatch(/no "seconds"/);
    expect(warp('nowhere.json')).toMatch(/no such file/);
    expect(refusal(3, 'hear', 'take.wav', '--fixes', 'fixes.json')).toMatch(/Fix 1/);
    expect(existsSync(at('o.wav'))).toBe(false);
  });

  test('parts of different length, projects that are none', () => {
    saveWav(at('short.wav'), plucks([0.1], 2, 0.1), '16');
    const parts = refusal(3, 'warp', 'take.wav', 'short.wav', '--map', 'map.json', '--to', 'parts');
    expect(parts).toMatch(/short\.wav has 88200 samples/);
    expect(refusal(3, 'pack', 'take.wav', '--to', 'p.zip')).toMatch(/no zip/);
    expect(refusal(3, 'loop', 'map.json', '--to', 'l.wav')).toMatch(/not a project/);
  });
});

describe('places that can not be written end with 1', () => {
  test('a file that is there already stays, unless --force', () => {
    writeFileSync(at('there.wav'), 'old');
    const args = ['warp', 'take.wav', '--map', 'map.json', '--to', 'there.wav'];
    expect(refusal(1, ...args)).toMatch(/there already/);
    expect(readFileSync(at('there.wav'), 'utf8')).toBe('old');
    expect(run(...args, '--force').code).toBe(0);
    expect(wav('there.wav').audio.channels[0].length).toBe(Math.round(11.003 * 44100));
  });

  test('a folder that is missing or closed', () => {
    const to = (path: string) => refusal(1, 'hear', 'take.wav', '--to', path);
    expect(to('nowhere/a.json')).toMatch(/folder does not exist/);
    expect(to('take.wav/a.json')).toMatch(/no folder|does not exist/);
    expect(to('.')).toMatch(/folder/);
    if (process.getuid?.() !== 0) {
      mkdirSync(at('closed'), { mode: 0o500 });
      expect(to('closed/a.json')).toMatch(/may not write/);
    }
  });
});

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
    // At or under -100 dBFS in float.
    expect(worst).toBeLessThanOrEqual(1e-5);
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

  test('a project of a newer version is a clear sentence', () => {
    expect(refusal(3, 'loop', 'open/project.json', '--to', 'x.wav')).toMatch(/newer version/);
  });

  test('nothing half written is left anywhere', () => {
    expect(readdirSync(command.folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  });
});
