import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import { type Audio, secondsOf } from '../../shared/take/audio.ts';
import { readWavLayout } from '../../shared/take/wav-layout.ts';
import type { Project } from '../../src/store/project.ts';
import { writeProject } from '../../src/store/project-file.ts';
import { record } from '../perform/record.ts';
import { smallSession } from '../perform/sets.ts';
import { buildCommand, type Command, saveWav } from './run-command.ts';

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

/** A project of one recording as a zip. */
async function saveProject(name: string, audio: Audio, more: Partial<Project> = {}): Promise<void> {
  saveWav(at(`${name}.wav`), audio, '24');
  const bytes = readFileSync(at(`${name}.wav`));
  const take = {
    hash: createHash('sha256').update(bytes).digest('hex'),
    name: `${name}.wav`,
    sampleRate: audio.sampleRate,
    channels: audio.channels.length,
    seconds: secondsOf(audio),
  };
  const project: Project = {
    version: 1,
    id: name,
    name,
    created: '2026-03-04T05:06:08.000Z',
    changed: '2026-03-04T05:06:08.000Z',
    take,
    stems: [],
    fixes: [],
    cuts: 50,
    slices: [],
    pads: [],
    lanes: [lane],
    ...more,
  };
  const pieces: Uint8Array[] = [];
  const kept = [{ hash: take.hash, bytes: () => bytes }];
  for await (const piece of writeProjectZip(writeProject(project), kept, project.changed))
    pieces.push(piece.slice());
  writeFileSync(at(`${name}.zip`), Buffer.concat(pieces));
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
