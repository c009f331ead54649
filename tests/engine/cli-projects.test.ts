import { createHash } from 'node:crypto';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Manifest } from '../../shared/pack/manifest.ts';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import { type Audio, secondsOf } from '../../shared/take/audio.ts';
import { readWavLayout } from '../../shared/take/wav-layout.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { plainPlacement } from '../../src/store/placement-commands.ts';
import type { Project, SourceFile } from '../../src/store/project.ts';
import { writeProject } from '../../src/store/project-file.ts';
import { record } from '../perform/record.ts';
import { smallSession } from '../perform/sets.ts';
import { freeTimes, plucks } from './plucks.ts';
import { buildCommand, type Command, refusalBy, saveWav } from './run-command.ts';

let command: Command;
const at = (...path: string[]) => command.at(...path);

beforeAll(async () => {
  command = await buildCommand();
});
afterAll(() => command.clean());

const lane = {
  id: 'l1',
  name: 'straight',
  bars: 1,
  beatsPerBar: 4,
  beatUnit: 4,
  bpm: 90,
  steady: 100,
  tighten: 0,
  grid: '16',
  swing: 50,
  source: { kind: 'straight', from: 2, until: 4 },
} as const;

/** A recording's file, and what a project says of it. */
function sourceFile(name: string, audio: Audio): SourceFile & { bytes: () => Uint8Array } {
  saveWav(at(name), audio, '24');
  const bytes = readFileSync(at(name));
  return {
    hash: createHash('sha256').update(bytes).digest('hex'),
    name,
    sampleRate: audio.sampleRate,
    channels: audio.channels.length,
    seconds: secondsOf(audio),
    bytes: () => bytes,
  };
}

/** A project as a zip; `kept`: another file that lies in the place of the take's. */
async function saveProject(
  name: string,
  audio: Audio,
  more: Partial<Project> = {},
  { kept, stems = [] }: { kept?: Uint8Array; stems?: readonly Audio[] } = {},
): Promise<void> {
  const { bytes, ...take } = sourceFile(`${name}.wav`, audio);
  const parts = stems.map((stem, i) => sourceFile(`${name} ${i}.wav`, stem));
  const project: Project = {
    version: 1,
    id: name,
    name,
    created: '2026-03-04T05:06:08.000Z',
    changed: '2026-03-04T05:06:08.000Z',
    take,
    stems: parts.map((part, i) => ({ ...part, label: `stem ${i}`, variant: null })),
    fixes: [],
    cuts: 50,
    slices: [],
    pads: [],
    lanes: [lane],
    ...more,
  };
  const pieces: Uint8Array[] = [];
  const files = [{ hash: take.hash, bytes: () => kept ?? bytes() }, ...parts];
  for await (const piece of writeProjectZip(writeProject(project), files, project.changed))
    pieces.push(piece.slice());
  writeFileSync(at(`${name}.zip`), Buffer.concat(pieces));
}

/** What a pack holds, and what its manifest says. */
function openPack(path: string, name: string) {
  const files = unzipSync(readFileSync(at(path)));
  const text = new TextDecoder().decode(files[`${name}/manifest.json`]);
  return { files, manifest: JSON.parse(text) as Manifest };
}

/** The text of a field of `LIST INFO`. */
function infoOf(path: string, field: string): string | undefined {
  const bytes = readFileSync(at(path));
  const lists = readWavLayout(bytes, path).chunks.filter((chunk) => chunk.id === 'LIST');
  const info = lists
    .map(({ start, size }) => bytes.subarray(start, start + size).toString('latin1'))
    .find((text) => text.startsWith('INFO'));
  const from = info?.indexOf(field) ?? -1;
  if (!info || from < 0) return undefined;
  return info.slice(from + 8, info.indexOf('\0', from + 8));
}

test('a loop states the key that hear says, which rests on the phrases too', async () => {
  // A session whose key is another one where the phrases are not asked.
  const { audio } = record(smallSession('ensemble', 5));
  await saveProject('session', audio);
  const { key } = JSON.parse(command.run('hear', 'session.wav').out);
  expect(command.run('loop', 'session.zip', '--to', 'loop.wav').err).toBe('');
  expect(infoOf('loop.wav', 'IKEY')).toBe(`${key.tonic} ${key.mode}`);
});

describe('a project that says more than its take holds', () => {
  const take = plucks(freeTimes(8), 5, 0.3);
  const slice = (id: string, start: number, end: number) =>
    ({ id, start, landing: start + 0.01, end, by: 'hand' }) as const;
  const placed = (slices: readonly string[]): Lane => ({
    ...lane,
    source: {
      kind: 'flip',
      placements: slices.map((id, at) => ({ ...plainPlacement, id: `p${at}`, slice: id, at })),
    },
  });

  test('a slice ends where the take does, and one after its end is none', async () => {
    const slices = [slice('s1', 1, 1.4), slice('s2', 4.2, 1e9), slice('s3', 6, 7)];
    const lanes = [placed(['s1', 's2', 's3'])];
    await saveProject('long', take, { slices, lanes });
    expect(command.run('loop', 'long.zip', '--to', 'long loop.wav').err).toBe('');
    expect(command.run('pack', 'long.zip', '--to', 'long pack.zip').err).toBe('');
    const { files, manifest } = openPack('long pack.zip', 'long');
    const stated = manifest.slices.map(({ id, end, files: [file] }) => [id, end, file.samples]);
    expect(stated).toEqual([
      ['s1', 1.4, Math.round(0.4 * 44100)],
      ['s2', 5, Math.round(0.8 * 44100)],
    ]);
    expect(Object.keys(files).filter((name) => name.startsWith('long/slices/')).length).toBe(2);
    // The same as if the project had said so.
    await saveProject('right', take, { slices: [slices[0], slice('s2', 4.2, 5)], lanes });
    command.run('loop', 'right.zip', '--to', 'right loop.wav');
    const [said, right] = ['long loop.wav', 'right loop.wav'].map(
      (path) => readWav(readFileSync(at(path)), path).audio.channels,
    );
    expect(said).toEqual(right);
  });

  test('a straight loop of what comes after the take is refused in a sentence', async () => {
    const source = { kind: 'straight', from: 100, until: 104 } as const;
    await saveProject('after', take, { lanes: [{ ...lane, source }] });
    for (const verb of ['loop', 'pack'])
      expect(refusalBy(command, 3, verb, 'after.zip', '--to', 'after.out')).toMatch(
        /"straight" begins at [\d.]+ s, and the take ends at 5\.00 s/,
      );
  });
});

test('a recording that was put in the place of another is not taken for it', async () => {
  const other = writeWav(plucks(freeTimes(8), 5, 0.3, 7), { bits: '24' });
  await saveProject('swapped', plucks(freeTimes(8), 5, 0.3), {}, { kept: other });
  for (const verb of ['loop', 'pack'])
    expect(refusalBy(command, 3, verb, 'swapped.zip', '--to', 'swapped.out')).toMatch(
      /another recording for swapped\.wav/,
    );
});

test('a stem that is not as long as the take is stated as long as its file is', async () => {
  const stems = [plucks(freeTimes(7), 4.5, 0.2), plucks(freeTimes(9), 5.5, 0.1)];
  await saveProject('uneven', plucks(freeTimes(8), 5, 0.3), { lanes: [] }, { stems });
  expect(command.run('pack', 'uneven.zip', '--to', 'uneven pack.zip').err).toBe('');
  const { files, manifest } = openPack('uneven pack.zip', 'uneven');
  for (const { file, samples } of [manifest.take, ...manifest.stems])
    expect(readWavLayout(files[`uneven/${file}`], file).frames).toBe(samples);
});

test('neither a project nor its recordings are written over by what is made of them', async () => {
  await saveProject('own', plucks(freeTimes(8), 5, 0.3));
  const files = unzipSync(readFileSync(at('own.zip')));
  for (const [name, bytes] of Object.entries(files)) {
    mkdirSync(dirname(at('loose', name)), { recursive: true });
    writeFileSync(at('loose', name), bytes);
  }
  const recording = join('loose', Object.keys(files).find((name) => /audio/.test(name)) ?? '');
  for (const verb of ['loop', 'pack'])
    for (const [project, to] of [
      ['own.zip', './own.zip'],
      ['loose/project.json', recording],
    ]) {
      const before = readFileSync(at(to));
      const sentence = refusalBy(command, 2, verb, project, '--to', to, '--force');
      expect(sentence).toContain(`${to} can't be written`);
      expect(readFileSync(at(to)).equals(before)).toBe(true);
    }
});
