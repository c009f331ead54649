import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { cutOffNote, cutOffOf } from '../../shared/take/cut-off.ts';
import { isMp3, readMp3 } from '../../shared/take/mp3-read.ts';
import { isOgg, oggPackets } from '../../shared/take/ogg-packets.ts';
import { readVorbis } from '../../shared/take/vorbis-read.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { plucks } from '../engine/plucks.ts';

/*
 * MP3 and Ogg Vorbis by their libraries' decoders, as the command reads them: against what was encoded, and
 * against ffmpeg's own decoders where it is installed.
 */
const { resolve } = createRequire(import.meta.url);
const compiled = (path: string) => new WebAssembly.Module(readFileSync(resolve(path)));
const minimp3 = compiled('minimp3-wasm/dist/decoder.opt.wasm');
const vorbis = compiled('ogv/dist/ogv-decoder-audio-vorbis-wasm.wasm');
const path = (name: string) => fileURLToPath(new URL(`../app/compressed/${name}`, import.meta.url));
const bytesOf = (name: string) => new Uint8Array(readFileSync(path(name)));

const readers = {
  mp3: (bytes: Uint8Array) => readMp3(bytes, 'a.mp3', minimp3),
  ogg: (bytes: Uint8Array) => readVorbis(bytes, 'a.ogg', vorbis),
};
const noteOf = (bytes: Uint8Array, name: string) => {
  const found = cutOffOf(bytes);
  return found && cutOffNote(found, name);
};
// See tests/app/compressed/README.md.
const source = plucks([0.4, 0.9, 1.5, 2.0, 2.45], 3, 0.25);

/** How much of one signal is another, moved by so many samples, and what is left over, in decibels. */
function compared(a: Float32Array, b: Float32Array, by: number): number {
  let [ab, bb, aa] = [0, 0, 0];
  for (let i = 100; i < a.length - 100; i++) {
    ab += a[i] * b[i + by];
    bb += b[i + by] ** 2;
    aa += a[i] ** 2;
  }
  return 10 * Math.log10(1 - ab ** 2 / (aa * bb));
}

describe.each(['mp3', 'ogg'] as const)('%s', (kind) => {
  const name = `plucks.${kind}`;
  const read = readers[kind];
  const { audio } = read(bytesOf(name));

  test('is as long as what was encoded, and lies where it lay, to the sample', () => {
    expect(audio.sampleRate).toBe(44100);
    expect(audio.channels.map((channel) => channel.length)).toEqual([132300, 132300]);
    for (const [c, channel] of audio.channels.entries()) {
      const best = [-3, -2, -1, 0, 1, 2, 3].reduce((best, by) =>
        compared(channel, source.channels[c], by) < compared(channel, source.channels[c], best)
          ? by
          : best,
      );
      expect(best).toBe(0);
      // What a low rate costs; a wrong order of samples or channels would leave nothing in common.
      expect(compared(channel, source.channels[c], 0)).toBeLessThan(-20);
    }
  });

  const ffmpeg = spawnSync('ffmpeg', ['-version']).error === undefined;
  test.runIf(ffmpeg)('is what ffmpeg decodes, when it is installed', () => {
    const args = ['-v', 'error', '-i', path(name), '-f', 'wav', '-c:a', 'pcm_f32le', '-'];
    const ran = spawnSync('ffmpeg', args, { maxBuffer: 1 << 26 });
    const theirs: Audio = readWav(new Uint8Array(ran.stdout), 'ffmpeg').audio;
    expect(theirs.channels[0].length).toBe(audio.channels[0].length);
    for (const [c, channel] of audio.channels.entries()) {
      const apart = channel.reduce(
        (most, v, i) => Math.max(most, Math.abs(v - theirs.channels[c][i])),
        0,
      );
      // The MP3 decoder rounds to 16 bits, from steps that are rounded themselves.
      expect(apart).toBeLessThan(kind === 'mp3' ? 2 / 32768 : 1e-5);
    }
  });

  test('what is damaged or cut off is sound still, or a clear error', () => {
    const good = bytesOf(name);
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat(good.length - 1), fc.nat(255)), { maxLength: 12 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (changes, share) => {
          const bytes = good.slice(0, Math.ceil(share * good.length));
          for (const [at, value] of changes) if (at < bytes.length) bytes[at] = value;
          try {
            const { channels } = read(bytes).audio;
            expect(channels.length).toBeGreaterThan(0);
            expect(channels.every((channel) => channel.length === channels[0].length)).toBe(true);
          } catch (error) {
            expect(error).toBeInstanceOf(InputError);
          }
        },
      ),
      { seed: 20260303, numRuns: 40 },
    );
  });

  test('any bytes under its head are a clear error', () => {
    const head = kind === 'ogg' ? [0x4f, 0x67, 0x67, 0x53] : [0xff, 0xfb, 0x90, 0];
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 3000 }), (rest) => {
        try {
          read(Uint8Array.of(...head, ...rest));
        } catch (error) {
          expect(error).toBeInstanceOf(InputError);
        }
      }),
      { seed: 20260304, numRuns: 60 },
    );
  });
});

describe('a missing end', () => {
  const promised = /promises 3\.00 s of sound and holds (\d\.\d\d) s/;
  const missing = /end is missing after (\d\.\d\d) s/;

  test.each(['plucks.mp3', 'plucks.ogg', 'plucks.opus'])(
    'of %s is told wherever it is cut',
    (name) => {
      const whole = bytesOf(name);
      expect(noteOf(whole, name)).toBeNull();
      let before = 0;
      for (let share = 0.3; share < 0.95; share += 0.07) {
        const note = noteOf(whole.subarray(0, Math.round(share * whole.length)), name) ?? '';
        const [, held] = (name.endsWith('mp3') ? promised : missing).exec(note) ?? [];
        expect(Number(held)).toBeGreaterThanOrEqual(before);
        before = Number(held);
      }
      expect(before).toBeLessThan(3);
    },
  );

  test('of an MP3 leaves what is there whole, as long as is said', () => {
    const whole = bytesOf('plucks.mp3');
    const cut = whole.subarray(0, Math.round(whole.length / 2));
    const { audio, cutOff } = readers.mp3(cut);
    const { channels } = audio;
    expect(cutOff).toEqual(cutOffOf(cut));
    const all = readers.mp3(whole).audio.channels;
    const [, held] = promised.exec(noteOf(cut, 'a.mp3') ?? '') ?? [];
    expect(channels[0].length / 44100).toBeCloseTo(Number(held), 1);
    // The last frame leans on bytes that are gone.
    const same = channels[0].length - 2 * 1152;
    expect(channels[0].subarray(0, same)).toEqual(all[0].subarray(0, same));
  });

  test('is not told of what only lies behind the sound, nor of damage on the way', () => {
    const whole = bytesOf('plucks.mp3');
    const tag = new Uint8Array(128);
    tag.set(Uint8Array.from('TAG', (letter) => letter.charCodeAt(0)));
    expect(noteOf(Uint8Array.of(...whole, ...tag), 'a.mp3')).toBeNull();
    const damaged = whole.slice();
    damaged.fill(0, 9000, 12000);
    expect(noteOf(damaged, 'a.mp3')).toBeNull();
  });

  const ffmpeg = spawnSync('ffmpeg', ['-version']).error === undefined;
  test.runIf(ffmpeg).each([
    ['mpeg 2, mono', ['-ar', '22050', '-ac', '1', '-b:a', '48k'], true],
    ['mpeg 2.5', ['-ar', '11025', '-b:a', '32k'], true],
    ['varying rate', ['-q:a', '4'], true],
    ['no tag', ['-b:a', '128k', '-write_xing', '0'], false],
    ['48 kHz', ['-ar', '48000', '-b:a', '320k'], true],
  ])('is told of what ffmpeg encodes, when it is installed: %s', (_, options, tagged) => {
    const from = fileURLToPath(new URL('../app/compressed/plucks.ogg', import.meta.url));
    // Into a file: the tag is written at its head when all else is known.
    const folder = mkdtempSync(join(tmpdir(), 'unclicked-'));
    const to = join(folder, 'a.mp3');
    spawnSync('ffmpeg', ['-v', 'error', '-i', from, ...options, to]);
    const whole = new Uint8Array(readFileSync(to));
    rmSync(folder, { recursive: true });
    expect(whole.length).toBeGreaterThan(5000);
    expect(noteOf(whole, 'a.mp3')).toBeNull();
    const note = noteOf(whole.subarray(0, Math.round(whole.length * 0.6)), 'a.mp3');
    expect(note).toMatch(tagged ? promised : missing);
  });
});

test('each is known by its head', () => {
  expect([isMp3, isOgg].map((is) => is(bytesOf('plucks.mp3')))).toEqual([true, false]);
  expect([isMp3, isOgg].map((is) => is(bytesOf('plucks.ogg')))).toEqual([false, true]);
  const riff = Uint8Array.from('RIFF', (letter) => letter.charCodeAt(0));
  expect(isMp3(riff) || isOgg(riff)).toBe(false);
  // AAC in ADTS has the same sync word, and layer 0.
  expect(isMp3(Uint8Array.of(0xff, 0xf1, 0x50, 0x80))).toBe(false);
});

test('an Ogg stream that is no Vorbis is a clear error', () => {
  expect(() => readers.ogg(bytesOf('plucks.opus'))).toThrow(/no Ogg Vorbis file/);
});

test('packets go on over pages, whatever their length (RFC 3533, section 5)', () => {
  const signature = Uint8Array.of(1, 2);
  fc.assert(
    fc.property(
      fc.array(fc.nat(900), { minLength: 1, maxLength: 12 }),
      fc.integer({ min: 1, max: 9 }),
      (lengths, perPage) => {
        const packets = lengths.map((length, k) =>
          Uint8Array.from({ length: length + 2 }, (_, i) => (i < 2 ? i + 1 : (i * 7 + k) & 255)),
        );
        // Laces of every packet, cut into pages of so many, whether a packet ends there or not.
        const laces = packets.flatMap((packet) =>
          [...Array(Math.floor(packet.length / 255)).fill(255), packet.length % 255].map(
            (lace, i): [number, Uint8Array] => [lace, packet.subarray(i * 255, i * 255 + lace)],
          ),
        );
        const file: number[] = [];
        for (let at = 0; at < laces.length; at += perPage) {
          const page = laces.slice(at, at + perPage);
          const goesOn = at > 0 && laces[at - 1][0] === 255;
          const flags =
            (goesOn ? 1 : 0) | (at === 0 ? 2 : 0) | (at + perPage >= laces.length ? 4 : 0);
          file.push(
            0x4f,
            0x67,
            0x67,
            0x53,
            0,
            flags,
            ...Array(8).fill(0),
            7,
            0,
            0,
            0,
            ...Array(8).fill(0),
          );
          file.push(
            page.length,
            ...page.map(([lace]) => lace),
            ...page.flatMap(([, data]) => [...data]),
          );
        }
        const read = [...oggPackets(Uint8Array.from(file), signature, 'a')].map(
          ({ bytes }) => bytes,
        );
        // The first page has to hold the signature for the stream to be known.
        expect(read).toEqual(packets);
      },
    ),
    { seed: 20260305, numRuns: 60 },
  );
});
