/**
 * Teaches the network that places beats without an onset, and writes `shared/hear/beats/silent-weights.ts`.
 *
 *   npx tsx tests/bench/fit-silent-beats.ts
 *
 * It looks at the pieces of beats/lesson-rounds.ts, as they were heard: between true beats that sound
 * it describes each one that does not, and beats/teach_places.py teaches how far from even it lies, so
 * that as many as possible are less than 40 ms off. Needs fluidsynth and a python3 with numpy; a minute beside
 * the recordings, which are those of fit-next-beat.ts.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { LONGEST, MOST } from '../../shared/hear/beats/path.ts';
import { indexFrom } from '../../shared/hear/beats/search.ts';
import { describeSilent, SILENT_INPUTS, SILENT_UNIT } from '../../shared/hear/beats/silent.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { BEATS_CACHE, type HeardPiece, heardPiece } from './beats/heard-piece.ts';
import { lessonRound, ROUNDS } from './beats/lesson-rounds.ts';
import { packed } from './beats/packed.ts';

/** An onset this near to a beat is on it. */
const ON_BEAT: Seconds = 0.04;

const rows: number[] = [];
/** Of each row: how far from even the beat is, as a share of a beat; length of the beat; whether it is kept apart. */
const wanted: number[] = [];

function nearestOnset(onsets: Float64Array, time: Seconds): Seconds {
  const next = indexFrom(onsets, time);
  const [a, b] = [onsets[next - 1] ?? -Infinity, onsets[next] ?? Infinity];
  return time - a < b - time ? a : b;
}

function describePiece({ beats, evidence: { times: onsets } }: HeardPiece, apart: boolean): void {
  const near = beats.map((beat) => nearestOnset(onsets, beat));
  const sounds = beats.map((beat, i) => Math.abs(near[i] - beat) <= ON_BEAT);
  const times = beats.map((beat, i) => (sounds[i] ? near[i] : beat));
  const inputs = new Float32Array(SILENT_INPUTS);
  for (let first = 0; first < beats.length; first++) {
    if (!sounds[first]) continue;
    const last = sounds.indexOf(true, first + 1);
    const parts = last - first;
    if (parts < 2 || parts > MOST || times[last] - times[first] > 2 * LONGEST) continue;
    const gap = {
      start: times[first],
      end: times[last],
      parts,
      before: first > 0 ? times[first] - times[first - 1] : undefined,
      after: sounds[last + 1] ? times[last + 1] - times[last] : undefined,
    };
    const even = (gap.end - gap.start) / parts;
    for (let index = 1; index < parts; index++) {
      describeSilent(onsets, gap, index, inputs);
      for (const one of inputs) rows.push(one);
      wanted.push((beats[first + index] - gap.start) / even - index, even, apart ? 1 : 0);
    }
  }
}

for (let round = 0; round < ROUNDS; round++)
  for (const [i, session] of lessonRound(round).entries())
    describePiece(heardPiece(session), (round * 10 + i) % 8 === 7);
const path = (end: string) => join(BEATS_CACHE, `silent.${end}`);
writeFileSync(path('inputs'), Buffer.from(Float32Array.from(rows).buffer));
writeFileSync(path('wanted'), Buffer.from(Float32Array.from(wanted).buffer));
writeFileSync(
  path('json'),
  JSON.stringify({
    inputs: SILENT_INPUTS,
    unit: SILENT_UNIT,
    hidden: [32],
    batch: 128,
    epochs: 14,
    decay: 0.2,
    drop: 0.2,
    bias: 0,
  }),
);
const script = fileURLToPath(new URL('beats/teach_places.py', import.meta.url));
const done = spawnSync('python3', [script, BEATS_CACHE, 'silent'], { stdio: 'inherit' });
if (done.status !== 0) throw new Error(`teach_places.py ended with ${done.status}`);
writeFileSync(
  fileURLToPath(new URL('../../shared/hear/beats/silent-weights.ts', import.meta.url)),
  `// Written by tests/bench/fit-silent-beats.ts; not for editing.
import type { PackedPerceptron } from '../perceptron.ts';

/** How far from even a beat lies that no onset carries (silent.ts). */
export const SILENT: PackedPerceptron = ${packed(JSON.parse(readFileSync(path('net.json'), 'utf8')))};
`,
);
