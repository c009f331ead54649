import { existsSync, readFileSync } from 'node:fs';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Lane } from '../../shared/loop/lane.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { buildCommand, type Command, type Ran } from './run-command.ts';

/** The demo's whole job, once, as a process of its own: about 20 s of a processor. */
let command: Command;
let ran: Ran;
const out = (path: string) => readFileSync(command.at('out', path));
const audio = (path: string) => readWav(out(path), path).audio;

beforeAll(async () => {
  command = await buildCommand();
  ran = command.run('demo', '--to', 'out');
});
afterAll(() => command.clean());

test('prints where everything lies, and everything is there', () => {
  expect(ran).toMatchObject({ code: 0, err: '' });
  const lines = ran.out.trim().split('\n');
  for (const line of lines) expect(existsSync(line.replace(/^.*?: /, '')), line).toBe(true);
  for (const what of [
    'take',
    'stem',
    'heard',
    'straightened',
    'loop straight',
    'loop flip',
    'project',
    'pack',
  ])
    expect(
      lines.some((line) => line.startsWith(what)),
      what,
    ).toBe(true);
});

test('loops have the exact number of samples, and their stems add up to the mix', () => {
  const project = unzipSync(out('Slack Water.unclicked.zip'), {
    filter: (file) => file.name === 'project.json',
  });
  const { lanes } = JSON.parse(new TextDecoder().decode(project['project.json'])) as {
    lanes: Lane[];
  };
  expect(lanes.length).toBe(2);
  for (const { name, bars, beatsPerBar, bpm } of lanes) {
    const length = Math.round(((bars * beatsPerBar * 60) / bpm) * 44100);
    const [mix, ...stems] = ['mix', 'Guitar', 'Clarinet', 'Frame drum'].map((part) =>
      audio(`loops/${name}/${part}.wav`),
    );
    for (const part of [mix, ...stems]) expect(part.channels[0].length).toBe(length);
    let worst = 0;
    mix.channels[0].forEach((v, i) => {
      const sum = stems.reduce((total, stem) => total + stem.channels[0][i], 0);
      worst = Math.max(worst, Math.abs(v - sum));
    });
    // Each file is rounded to 24 bits with dither of its own: four errors of at most 1.5 steps.
    expect(worst).toBeLessThan(6.1 * 2 ** -23);
  }
});

test('the pack holds the take as it came', () => {
  const files = unzipSync(out('Slack Water pack.zip'), {
    filter: (file) => file.name.includes('/take/') || file.name.endsWith('manifest.json'),
  });
  const take = files['Slack Water/take/Slack Water.wav'];
  expect(Buffer.compare(take, out('Slack Water.wav'))).toBe(0);
  const manifest = JSON.parse(new TextDecoder().decode(files['Slack Water/manifest.json']));
  expect(manifest.lanes.length).toBe(2);
  expect(manifest.stems.map((stem: { part: string }) => stem.part)).toEqual([
    'Guitar',
    'Clarinet',
    'Frame drum',
  ]);
});

test('a second run does not overwrite the first', () => {
  const again = command.run('demo', '--to', 'out');
  expect(again).toMatchObject({ code: 1, out: '' });
  expect(again.err).toMatch(/there already/);
});
