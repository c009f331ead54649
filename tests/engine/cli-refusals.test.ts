import { spawnSync } from 'node:child_process';
import {
  closeSync,
  existsSync,
  linkSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { freeTimes, plucks } from './plucks.ts';
import { buildCommand, type Command, refusalBy, saveWav } from './run-command.ts';

let command: Command;
const at = (...path: string[]) => command.at(...path);
const run = (...args: string[]) => command.run(...args);
const refusal = (code: number, ...args: string[]) => refusalBy(command, code, ...args);
const json = (path: string, value: unknown) => writeFileSync(at(path), JSON.stringify(value));

beforeAll(async () => {
  command = await buildCommand();
  saveWav(at('take.wav'), plucks(freeTimes(8), 5, 0.3), '16');
  json('map.json', {
    anchors: [
      { from: 1, to: 1 },
      { from: 3, to: 3.2 },
    ],
    seconds: 5.003,
  });
});
afterAll(() => command.clean());

describe('wrong use ends with 2', () => {
  test.each<[string[], RegExp]>([
    [['sing'], /no verb sing/],
    [['hear', 'a.wav', 'b.wav'], /Name one take \(a recording\), not 2;/],
    [['hear'], /Name a take \(a recording\);/],
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

test('the version is on stdout', () => {
  const { version } = JSON.parse(readFileSync('package.json', 'utf8'));
  expect(run('--version')).toEqual({ code: 0, out: `${version}\n`, err: '' });
});

test('help is on stdout, for the command and for each verb', () => {
  expect(run('--help')).toMatchObject({ code: 0, err: '' });
  for (const verb of ['hear', 'warp', 'straighten', 'tune', 'loop', 'pack', 'demo']) {
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
    json('nothing.json', { anchors: [], seconds: 1e-6 });
    json('fixes.json', { fixes: [{ beat: 1 }, { beet: 2 }] });
    const warp = (map: string) => refusal(3, 'warp', 'take.wav', '--map', map, '--to', 'o.wav');
    expect(warp('broken.json')).toMatch(/not JSON/);
    expect(warp('back.json')).toMatch(/backwards at anchor 1/);
    expect(warp('endless.json')).toMatch(/no "seconds"/);
    expect(warp('nothing.json')).toMatch(/less than a sample/);
    expect(warp('nowhere.json')).toMatch(/no such file/);
    expect(refusal(3, 'hear', 'take.wav', '--fixes', 'fixes.json')).toMatch(/Fix 1/);
    json('late.json', { fixes: [{ beat: 5.2 }, { one: 1234 }] });
    const late = ['take.wav', '--fixes', 'late.json'];
    expect(refusal(3, 'hear', ...late)).toMatch(/Fix 1 .* 1234 s, and the take ends at 5\.00 s/);
    expect(refusal(3, 'straighten', ...late, '--to', 'o.wav')).toMatch(/Fix 1/);
    expect(existsSync(at('o.wav'))).toBe(false);
  });

  test('a stretch that begins after the take', () => {
    const call = ['straighten', 'take.wav', '--to', 'o.wav', '--from', '20'];
    expect(refusal(3, ...call)).toMatch(/begins at 20 s, and the take ends at 5\.00 s/);
  });

  test('parts of different length, projects that are none', () => {
    saveWav(at('short.wav'), plucks([0.1], 2, 0.1), '16');
    const parts = refusal(3, 'warp', 'take.wav', 'short.wav', '--map', 'map.json', '--to', 'parts');
    expect(parts).toMatch(/short\.wav has 88200 samples/);
    expect(refusal(3, 'pack', 'take.wav', '--to', 'p.zip')).toMatch(/no zip/);
    expect(refusal(3, 'loop', 'map.json', '--to', 'l.wav')).toMatch(/not a project/);
  });
});

describe('what is read is not written over, even with --force', () => {
  /** Tries what must leave a file as it is. */
  const spared = (file: string, ...args: string[]) => {
    const before = readFileSync(at(file));
    const sentence = refusal(2, ...args, '--force');
    expect(readFileSync(at(file)).equals(before)).toBe(true);
    return sentence;
  };

  test('a take, by its own and by other names', () => {
    linkSync(at('take.wav'), at('other.wav'));
    symlinkSync('take.wav', at('link.wav'));
    mkdirSync(at('sub'), { recursive: true });
    const warp = ['warp', 'take.wav', '--map', 'map.json', '--to'];
    for (const name of ['take.wav', './take.wav', 'sub/../take.wav', at('take.wav')])
      expect(spared('take.wav', ...warp, name)).toMatch(/can't be written: .*read; name another/);
    for (const name of ['other.wav', 'link.wav'])
      expect(spared('take.wav', ...warp, name)).toContain(
        `${name} can't be written: it is take.wav`,
      );
    // Adding --force is no way, so it is not advised.
    expect(refusal(2, ...warp, 'take.wav')).not.toContain('--force');
    for (const verb of ['straighten', 'tune', 'hear'])
      expect(spared('take.wav', verb, 'link.wav', '--to', 'take.wav')).toMatch(/it is link\.wav/);
  });

  test('maps, fixes and what is inside a folder of outputs', () => {
    json('fixes.json', { fixes: [] });
    saveWav(at('sub', 'bass.wav'), plucks(freeTimes(8), 5, 0.3), '16');
    spared('map.json', 'warp', 'take.wav', '--map', 'map.json', '--to', 'map.json');
    spared('fixes.json', 'hear', 'take.wav', '--fixes', 'fixes.json', '--to', 'fixes.json');
    const both = ['take.wav', 'sub/bass.wav', '--map', 'map.json', '--to', 'sub'];
    expect(spared('sub/bass.wav', 'warp', ...both)).toMatch(/sub.bass\.wav can't be written/);
    expect(existsSync(at('sub', 'take.wav'))).toBe(false);
  });
});

describe('places that can not be written end with 1', () => {
  test('a file that is there already stays, unless --force', () => {
    writeFileSync(at('there.wav'), 'old');
    const args = ['warp', 'take.wav', '--map', 'map.json', '--to', 'there.wav'];
    expect(refusal(1, ...args)).toMatch(/there already/);
    expect(readFileSync(at('there.wav'), 'utf8')).toBe('old');
    expect(run(...args, '--force').code).toBe(0);
    const { audio } = readWav(readFileSync(at('there.wav')), 'there.wav');
    expect(audio.channels[0].length).toBe(Math.round(5.003 * 44100));
  });

  test('a name may be as long as the disk takes it', () => {
    // 255 bytes are the most on the usual file systems of Linux; macOS and Windows count alike or more generously.
    const name = (letters: number) => `${'n'.repeat(letters - 4)}.wav`;
    const warp = (to: string) => ['warp', 'take.wav', '--map', 'map.json', '--to', to];
    expect(run(...warp(name(255)))).toEqual({ code: 0, out: '', err: '' });
    expect(refusal(1, ...warp(name(300)))).toMatch(/its name is too long; choose a shorter one/);
    expect(refusal(3, 'hear', name(300))).toMatch(/its name is too long/);
  });

  test('a place that is written as a folder is none for a file', () => {
    expect(refusal(1, 'hear', 'take.wav', '--to', 'new/')).toMatch(/it is a folder; name a file/);
  });

  test('a device stays one', () => {
    const [device] = ['/dev/null', '/dev/stdout'].filter(existsSync);
    if (!device) return;
    const call = ['hear', 'take.wav', '--to', device, '--force'];
    expect(refusal(1, ...call)).toMatch(/it is a device or a pipe/);
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

  test('a folder for several outputs is made with them, and not where nothing comes of it', () => {
    saveWav(at('short.wav'), plucks([0.1], 2, 0.1), '16');
    const both = (second: string, to: string) =>
      ['warp', 'take.wav', second, '--map', 'map.json', '--to', to] as const;
    refusal(3, ...both('short.wav', 'made/deep'));
    expect(existsSync(at('made'))).toBe(false);
    expect(refusal(1, ...both('short.wav', 'take.wav'))).toMatch(/take\.wav is a file/);
    expect(refusal(1, ...both('short.wav', 'take.wav/deep'))).toMatch(/take\.wav is a file/);
    saveWav(at('second.wav'), plucks(freeTimes(8), 5, 0.3), '16');
    expect(run(...both('second.wav', 'made/deep'))).toEqual({ code: 0, out: '', err: '' });
    expect(readdirSync(at('made', 'deep')).sort()).toEqual(['second.wav', 'take.wav']);
    mkdirSync(at('other', 'second.wav'), { recursive: true });
    expect(refusal(1, ...both('second.wav', 'other'))).toMatch(/second\.wav.*it is a folder/);
    expect(readdirSync(at('other'))).toEqual(['second.wav']);
  });

  test('a disk that is full under stdout is said on stderr', () => {
    if (!existsSync('/dev/full')) return;
    const full = openSync('/dev/full', 'w');
    const { status, stderr } = spawnSync(
      process.execPath,
      [join(command.outDir, 'cli.js'), 'hear', 'take.wav'],
      { cwd: command.folder, encoding: 'utf8', stdio: ['ignore', full, 'pipe'] },
    );
    closeSync(full);
    expect([status, stderr]).toEqual([
      1,
      "unclicked: The output can't be written: the disk is full; make room.\n",
    ]);
  });
});
