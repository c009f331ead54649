import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import nodeId3 from 'node-id3';
import { describe, expect, test } from 'vitest';
import { broadcastChunk } from '../../shared/pack/broadcast-chunk.ts';
import { id3Chunk, id3Key } from '../../shared/pack/id3-chunk.ts';
import { cueChunks, infoChunk, samplerChunk } from '../../shared/pack/wav-chunks.ts';
import type { WavChunk } from '../../shared/take/wav-write.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { takeApart } from './taken-apart.ts';

/** A short file with chunks. */
function takenApart(chunks: readonly WavChunk[]) {
  const audio = { sampleRate: 44100, channels: [new Float32Array(1001)] };
  return takeApart(writeWav(audio, { bits: '24', chunks }));
}

const hex = (bytes: Uint8Array) =>
  Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join(' ');

describe('RIFF chunks (IBM and Microsoft, 1991; Microsoft RIFFNEW, 1994)', () => {
  test('smpl: the whole file is one endless loop whose last sample is played', () => {
    const { smpl } = takenApart([samplerChunk(1001, 44100)]);
    expect(smpl).toMatchObject({
      chunkId: 'smpl',
      // The text's own example for 44.1 kHz is 22675 (0x5893): it cuts 22675.74 off.
      dwSamplePeriod: 22675,
      dwMIDIUnityNote: 60,
      dwMIDIPitchFraction: 0,
      dwNumSampleLoops: 1,
      dwSamplerData: 0,
    });
    expect(smpl.loops).toMatchObject([{ dwType: 0, dwStart: 0, dwEnd: 1000, dwPlayCount: 0 }]);
    expect(samplerChunk(10, 48000).data.length).toBe(36 + 24);
    expect(new DataView(samplerChunk(10, 48000).data.buffer).getUint32(8, true)).toBe(20833);
    expect(new DataView(samplerChunk(10, 96000).data.buffer).getUint32(8, true)).toBe(10416);
  });

  test('cue and LIST adtl: points, names and regions', () => {
    const file = takenApart(
      cueChunks([
        { at: 0, label: 'landing 1.1' },
        { at: 500, label: 'Ünïted', length: 250 },
      ]),
    );
    expect(file.cue.dwCuePoints).toBe(2);
    expect(file.cue.points).toMatchObject([
      {
        dwName: 1,
        dwPosition: 0,
        fccChunk: 'data',
        dwChunkStart: 0,
        dwBlockStart: 0,
        dwSampleOffset: 0,
      },
      { dwName: 2, dwPosition: 500, fccChunk: 'data', dwSampleOffset: 500 },
    ]);
    const [list] = file.LIST;
    expect(list.format).toBe('adtl');
    expect(list.subChunks).toMatchObject([
      { chunkId: 'labl', dwName: 1, value: 'landing 1.1' },
      { chunkId: 'labl', dwName: 2, value: 'United' },
      { chunkId: 'ltxt', dwName: 2, dwSampleLength: 250, dwPurposeID: 0x206e6772 },
    ]);
  });

  test('LIST INFO: zero-terminated ASCII, an odd text padded', () => {
    const chunk = infoChunk({ INAM: 'Even', ISFT: 'odd', IKEY: 'Eb major', IART: '' });
    const file = takenApart([chunk]);
    expect(file.LIST[0].subChunks).toMatchObject([
      { chunkId: 'INAM', value: 'Even' },
      { chunkId: 'ISFT', value: 'odd' },
      { chunkId: 'IKEY', value: 'Eb major' },
    ]);
    expect(hex(chunk.data.subarray(0, 18))).toBe(
      '49 4e 46 4f 49 4e 41 4d 05 00 00 00 45 76 65 6e 00 00',
    );
  });
});

describe('bext v2 (EBU Tech 3285 v2.0, May 2011)', () => {
  const chunk = broadcastChunk({
    description: 'A loop',
    originator: 'Unclicked',
    reference: 'abc',
    date: '2026-03-04T05:06:07.000Z',
    timeReference: 2 ** 32 + 5,
    loudness: {
      integrated: -18.234,
      range: 9.1,
      truePeak: -1.3,
      maxMomentary: -12.5,
      maxShortTerm: Number.NEGATIVE_INFINITY,
    },
    history: ['A=PCM,F=44100,W=24,M=stereo,T=Unclicked'],
  });

  test('fields stand where the text has them', () => {
    const view = new DataView(chunk.data.buffer, chunk.data.byteOffset);
    const text = (at: number, length: number) =>
      String.fromCharCode(...chunk.data.subarray(at, at + length)).replace(/\0+$/, '');
    expect(text(0, 256)).toBe('A loop');
    expect(text(256, 32)).toBe('Unclicked');
    expect(text(320, 10)).toBe('2026-03-04');
    expect(text(330, 8)).toBe('05:06:07');
    expect([view.getUint32(338, true), view.getUint32(342, true)]).toEqual([5, 1]);
    expect(view.getUint16(346, true)).toBe(2);
    // Hundredths of LUFS, LU and dBTP; 0x7FFF where there is nothing to measure (from memory).
    const loudness = [0, 1, 2, 3, 4].map((i) => view.getInt16(412 + 2 * i, true));
    expect(loudness).toEqual([-1823, 910, -130, -1250, 0x7fff]);
    expect(chunk.data.subarray(422, 602).every((b) => b === 0)).toBe(true);
    expect(text(602, 100)).toBe('A=PCM,F=44100,W=24,M=stereo,T=Unclicked\r\n');
  });

  test('the wavefile library reads them', () => {
    const { bext } = takenApart([chunk]);
    // It leaves the zeros that fill a field in the text.
    expect(bext.description.replace(/\0+$/, '')).toBe('A loop');
    expect(bext.originator.replace(/\0+$/, '')).toBe('Unclicked');
    expect(bext).toMatchObject({
      chunkId: 'bext',
      originationDate: '2026-03-04',
      originationTime: '05:06:07',
      timeReference: [5, 1],
      version: 2,
      maxTruePeakLevel: 65536 - 130,
    });
  });
});

describe('ID3v2.3.0 (id3.org, 1999)', () => {
  test('node-id3 (MIT) reads every frame', () => {
    const chunk = id3Chunk({
      title: 'Slack Wäter straight',
      album: 'Slack Water',
      artist: 'Ada',
      bpm: 93.7,
      key: { tonic: 'Eb', mode: 'minor', confidence: 1 },
    });
    expect(chunk.id).toBe('id3 ');
    const tags = nodeId3.read(Buffer.from(chunk.data));
    expect(tags).toMatchObject({
      title: 'Slack Wäter straight',
      album: 'Slack Water',
      artist: 'Ada',
      bpm: '94',
      initialKey: 'Ebm',
    });
    expect(tags.userDefinedText).toMatchObject([{ description: 'tempo', value: '93.7' }]);
  });

  test('TKEY is a letter, an accidental and m, or o where there is no key', () => {
    const key = (tonic: string, mode: 'major' | 'minor' | 'unclear') =>
      id3Key({ tonic, mode, confidence: 1 });
    expect([
      key('C', 'major'),
      key('F#', 'minor'),
      key('Bb', 'major'),
      key('unclear', 'unclear'),
    ]).toEqual(['C', 'F#m', 'Bb', 'o']);
  });

  test('the size in the header is sync-safe and counts neither header nor pad', () => {
    const title = 'x'.repeat(300);
    const { data } = id3Chunk({ title, album: '' });
    const [a, b, c, d] = data.subarray(6, 10);
    expect(Math.max(a, b, c, d)).toBeLessThan(128);
    expect((a << 21) | (b << 14) | (c << 7) | d).toBe(data.length - 10);
  });
});

const ffprobe = spawnSync('ffprobe', ['-version']).error === undefined;
test.runIf(ffprobe)('ffprobe reads every chunk without a complaint, when it is installed', () => {
  const silent = Number.NEGATIVE_INFINITY;
  const bytes = writeWav(
    { sampleRate: 44100, channels: [new Float32Array(4410)] },
    {
      bits: '24',
      chunks: [
        broadcastChunk({
          description: 'A loop',
          originator: 'Unclicked',
          reference: 'abc',
          date: '2026-03-04T05:06:07.000Z',
          timeReference: 12345,
          loudness: {
            integrated: silent,
            range: 0,
            truePeak: silent,
            maxMomentary: silent,
            maxShortTerm: silent,
          },
          history: ['A=PCM'],
        }),
        samplerChunk(4410, 44100),
        ...cueChunks([{ at: 10, label: 'landing' }]),
        infoChunk({ INAM: 'Title', IPRD: 'Album', IKEY: 'A minor' }),
        id3Chunk({
          title: 'Title',
          album: 'Älbum',
          bpm: 93.7,
          key: { tonic: 'A', mode: 'minor', confidence: 1 },
        }),
      ],
    },
  );
  const folder = mkdtempSync(join(tmpdir(), 'unclicked-chunks-'));
  // From a file, not a pipe: in a pipe it does not look behind the sound.
  const path = join(folder, 'a.wav');
  writeFileSync(path, bytes);
  const ran = spawnSync('ffprobe', [
    ...['-v', 'warning', '-of', 'json', '-show_format', '-show_streams'],
    path,
  ]);
  rmSync(folder, { recursive: true });
  // It prefers INFO over ID3 and says so; that is all that it may say.
  expect(ran.stderr.toString()).not.toMatch(/error|invalid|incorrect|truncat|skip/i);
  const { format, streams } = JSON.parse(ran.stdout.toString());
  expect(streams).toMatchObject([{ codec_name: 'pcm_s24le', sample_rate: '44100', channels: 1 }]);
  expect(format.tags).toMatchObject({
    title: 'Title',
    encoded_by: 'Unclicked',
    time_reference: '12345',
    IKEY: 'A minor',
  });
});
