import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Manifest } from '../../shared/pack/manifest.ts';
import { lanes, packed } from '../engine/small-pack.ts';

/*
 * What programs of others make of a pack's files: ffprobe (FFmpeg) and sox, where they are installed. The
 * libraries that are always there (wavefile, midi-file, node-id3, ajv) read them in tests/engine/pack.test.ts.
 */
const has = (program: string) => spawnSync(program, ['--version']).error === undefined;
const ffprobe = has('ffprobe');
const sox = has('sox');

let folder: string;
let manifest: Manifest;
const at = (file: string) => join(folder, 'Ebb', file);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'pack-'));
  if (!ffprobe && !sox) return;
  const wishes = {
    title: 'Ebb',
    artist: 'Ada',
    terms: 'Ask first',
    bits: '24',
    sampleRate: 48000,
  } as const;
  for (const [name, bytes] of await packed(wishes)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), bytes);
    if (name.endsWith('/manifest.json')) manifest = JSON.parse(new TextDecoder().decode(bytes));
  }
});
afterAll(() => rmSync(folder, { recursive: true }));

const probe = (file: string) => {
  const args = ['-v', 'error', '-show_format', '-show_streams', '-of', 'json', at(file)];
  const ran = spawnSync('ffprobe', args, { encoding: 'utf8' });
  expect(ran.stderr).toBe('');
  const { streams, format } = JSON.parse(ran.stdout);
  return { stream: streams[0], tags: format.tags };
};

describe.runIf(ffprobe)('ffprobe', () => {
  test('reads every loop: format, length to the sample, and every text', () => {
    for (const [i, lane] of manifest.lanes.entries())
      for (const sound of lane.files) {
        const { stream, tags } = probe(sound.file);
        expect(stream).toMatchObject({
          codec_name: 'pcm_s24le',
          sample_rate: '48000',
          channels: sound.channels,
          duration_ts: sound.samples,
        });
        expect(sound.samples).toBe(Math.round(((lanes[i].bars * 4 * 60) / lanes[i].bpm) * 48000));
        expect(tags).toMatchObject({
          artist: 'Ada',
          album: 'Ebb',
          copyright: 'Ask first',
          date: '2026-03-04',
          encoded_by: 'Ada',
          time_reference: '0',
          IKEY: 'A minor',
        });
        expect(tags.title).toMatch(/^Ebb .*bpm Am/);
        expect(tags.comment).toContain(`${lane.bpm} bpm, ${lane.bars} bars`);
        expect(tags.coding_history).toContain('F=48000,W=24');
      }
  });

  test('reads slices with their place on the timeline, and the click', () => {
    for (const slice of manifest.slices.slice(0, 4)) {
      const [sound] = slice.files;
      const { stream, tags } = probe(sound.file);
      expect(stream).toMatchObject({ sample_rate: '48000', duration_ts: sound.samples });
      expect(Number(tags.time_reference)).toBe(Math.round(slice.start * 48000));
    }
    const { stream } = probe(manifest.tempoMap.clickFile);
    expect(stream).toMatchObject({
      codec_name: 'pcm_s16le',
      sample_rate: String(manifest.take.sampleRate),
      duration_ts: manifest.take.samples,
    });
  });
});

describe.runIf(sox)('sox', () => {
  test('reads loops and slices: format, length, and the very level', () => {
    for (const lane of manifest.lanes) {
      const [mix] = lane.files;
      const info = spawnSync('sox', ['--i', at(mix.file)], { encoding: 'utf8' });
      expect(info.stderr).toBe('');
      expect(info.stdout).toContain(`= ${mix.samples} samples`);
      expect(info.stdout).toMatch(/Precision\s*: 24-bit/);
      const stats = spawnSync('sox', [at(mix.file), '-n', 'stats'], { encoding: 'utf8' });
      // "Pk lev dB" of sample values can't be above the true peak, and is near it for low tones.
      const peak = Number(/Pk lev dB\s+(-?[\d.]+)/.exec(stats.stderr)?.[1]);
      expect(peak).toBeLessThanOrEqual((mix.loudness.truePeak ?? -99) + 0.01);
      expect(peak).toBeGreaterThan((mix.loudness.truePeak ?? -99) - 0.5);
    }
    for (const slice of manifest.slices.slice(0, 4)) {
      const info = spawnSync('sox', ['--i', '-s', at(slice.files[0].file)], { encoding: 'utf8' });
      expect(Number(info.stdout)).toBe(slice.files[0].samples);
    }
  });
});
