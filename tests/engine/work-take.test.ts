import 'fake-indexeddb/auto';
import { inflateRawSync } from 'node:zlib';
import { beforeAll, describe, expect, it } from 'vitest';
import type { HeardTake } from '../../shared/cut/hear-take.ts';
import { loopLength } from '../../shared/loop/length.ts';
import { readProjectZip } from '../../shared/pack/project-zip.ts';
import { readZip } from '../../shared/pack/zip-read.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';
import type { Peaks } from '../../shared/take/peaks.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { hashOf } from '../../src/store/hash.ts';
import { plainLane } from '../../src/store/lane-commands.ts';
import { plainPlacement } from '../../src/store/placement-commands.ts';
import type { Project } from '../../src/store/project.ts';
import { readProject, writeProject } from '../../src/store/project-file.ts';
import { firstCuts } from '../../src/work/first-cuts.ts';
import { jobs } from '../../src/work/jobs.ts';

const rate = 22050;
const quiet = () => {};

/** Plucked tones, one each half second that grows a little longer; `which` takes the even or the odd ones. */
function pluck(which: 'even' | 'odd'): Audio {
  const samples = new Float32Array(10 * rate);
  let at = 0.4;
  for (let n = 0; at < 9; n++) {
    if ((n % 2 === 0) === (which === 'even'))
      for (let i = 0; i < rate; i++) {
        const t = i / rate;
        const to = Math.round(at * rate) + i;
        const x = 0.3 * Math.sin(2 * Math.PI * (220 + 40 * (n % 5)) * t) * Math.exp(-6 * t);
        if (to < samples.length) samples[to] += Math.round(x * 32768) / 32768;
      }
    at += 0.5 + n * 0.004;
  }
  return { sampleRate: rate, channels: [samples] };
}

const stems = [pluck('even'), pluck('odd')];
const mix: Audio = {
  sampleRate: rate,
  channels: [
    Float32Array.from(stems[0]?.channels[0] ?? [], (x, i) => x + (stems[1]?.channels[0]?.[i] ?? 0)),
  ],
};
let heard: HeardTake & { peaks: Peaks };
let project: Project;
let files: Uint8Array[];

beforeAll(async () => {
  jobs.keepTake({ mix, stems });
  heard = jobs.hear({ fixes: [] }, quiet);
  files = [mix, ...stems].map((audio) => writeWav(audio, { bits: '16' }));
  const hashes = await Promise.all(files.map(hashOf));
  const file = (i: number, name: string) => ({
    hash: hashes[i] ?? '',
    name: `${name}.wav`,
    sampleRate: rate,
    channels: 1,
    seconds: 10,
  });
  const fresh: Project = {
    version: 1,
    id: 'plucked',
    name: 'Plucked',
    created: '2026-01-01T00:00:00.000Z',
    changed: '2026-01-01T00:00:00.000Z',
    take: file(0, 'Plucked mix'),
    stems: ['even', 'odd'].map((label, i) => ({ ...file(i + 1, label), label, variant: null })),
    fixes: [],
    cuts: 80,
    slices: [],
    pads: [],
    lanes: [],
  };
  const cut = firstCuts(fresh, heard.phrases, jobs.suggest({ heard, cuts: fresh.cuts }));
  const placements = cut.slices.slice(0, 4).map((slice, i) => ({
    ...plainPlacement,
    id: `p${i + 1}`,
    slice: slice.id,
    at: (3 - i) * 0.75,
  }));
  const lane = { ...plainLane, id: 'l1', name: 'flip A', bars: 1, bpm: 113 };
  project = { ...cut, lanes: [{ ...lane, source: { kind: 'flip', placements } }] };
});

describe('what the worker does', () => {
  it('cuts what it heard and lays the first lines on the rows', () => {
    expect(project.slices.length).toBeGreaterThan(8);
    expect(project.pads.length).toBeGreaterThan(3);
    expect(heard.peaks.length).toBe(lengthOf(mix));
  });

  it('infers after a fix as if everything had been heard again with it', () => {
    const fixes = [{ beat: heard.onsets[5]?.time ?? 0, by: 'moved' as const }];
    const inferred = jobs.infer({ fixes });
    const again = jobs.hear({ fixes }, quiet);
    expect(inferred).toEqual(again.beats);
    expect(inferred.some((beat) => Math.abs(beat.time - fixes[0].beat) < 1e-9)).toBe(true);
  });

  it('reads a file, keeps it, and reads it again from what is kept, bit for bit', async () => {
    const [bytes] = files as [Uint8Array<ArrayBuffer>];
    const blob = new Blob([bytes]);
    const read = await jobs.read({ name: 'mix.wav', blob });
    expect(read?.hash).toBe(await hashOf(bytes));
    expect(read?.audio?.channels[0]).toEqual(mix.channels[0]);
    expect(await jobs.read({ name: 'mix.wav', hash: read?.hash ?? '' })).toBeNull();
    expect(await jobs.keepFile({ blob, hash: read?.hash ?? '' }, quiet)).toBe(true);
    expect(await jobs.read({ name: 'mix.wav', hash: read?.hash ?? '' })).toEqual(read);
    const other = new Blob([Uint8Array.from([1, 2, 3, 4])]);
    expect((await jobs.read({ name: 'a.mp3', blob: other }))?.audio).toBeNull();
    const gone = new Blob(['moved']);
    gone.arrayBuffer = () => Promise.reject(new DOMException('Not there.', 'NotFoundError'));
    await expect(jobs.read({ name: 'gone.wav', blob: gone })).rejects.toThrow(
      "gone.wav can't be read: look whether it is still where it was, then open it again.",
    );
    const empty = jobs.read({ name: 'empty.wav', blob: new Blob([]) });
    await expect(empty).rejects.toThrow('empty.wav is empty');
  });

  it('renders a lane of the exact length, whose stems add up to the mix', () => {
    const [lane] = project.lanes;
    const rendered = jobs.render(
      { lane, slices: project.slices, heard, original: { from: 0, until: 4 }, stems: true },
      quiet,
    );
    const [whole, even, odd] = rendered.outputs.map((audio) => audio.channels[0]);
    expect(whole).toHaveLength(loopLength(lane, rate));
    let worst = 0;
    whole.forEach((x, i) => {
      worst = Math.max(worst, Math.abs(x - even[i] - odd[i]));
    });
    // -100 dBFS, the goal for stems of one performance.
    expect(worst).toBeLessThan(1e-5);
    expect(rendered.seam.verdict).toMatch(/^[a-z ]+, \d+\.\d dB step where \d+\.\d is usual$/);
    expect(rendered.originalLoudness.integrated).toBeGreaterThan(-40);
  });

  it('moves the pitch of a slice and keeps its length', () => {
    const [slice] = project.slices;
    const moved = jobs.pitch({ slice, semitones: 5, cents: 0, formants: 'moved' }, quiet);
    expect(moved).toHaveLength(3);
    const frames = Math.round(slice.end * rate) - Math.round(slice.start * rate);
    for (const audio of moved) expect(lengthOf(audio)).toBe(frames);
  });

  it('packs the take byte for byte, with a loop and its stems', async () => {
    const blob = await jobs.pack({ project, heard, files }, quiet);
    const zip = readZip(sourceOf(new Uint8Array(await blob.arrayBuffer())), 'pack.zip', (bytes) =>
      inflateRawSync(bytes),
    );
    const names = [...zip.keys()];
    const take = names.find((name) => name.endsWith('take/Plucked mix.wav')) ?? '';
    expect(
      Buffer.compare(zip.get(take)?.bytes() ?? Buffer.alloc(0), files[0] ?? Buffer.alloc(0)),
    ).toBe(0);
    expect(names.filter((name) => /\/loops\/.*\.wav$/.test(name))).toHaveLength(3);
  });

  it('saves the project with its recordings in one file that opens again', async () => {
    const audio = files.map((bytes, i) => ({
      hash: [project.take, ...project.stems][i]?.hash ?? '',
      bytes,
    }));
    const document = writeProject(project);
    const blob = await jobs.projectZip({ document, audio, date: project.changed });
    const bytes = new Uint8Array(await blob.arrayBuffer());
    const zip = readProjectZip(sourceOf(bytes), 'Plucked.unclicked.zip');
    expect(readProject(zip.document)).toEqual({ project, repairs: [] });
    for (const { hash, bytes: whole } of audio)
      expect(Buffer.compare(zip.audio.get(hash)?.bytes() ?? Buffer.alloc(0), whole)).toBe(0);
  });
});
