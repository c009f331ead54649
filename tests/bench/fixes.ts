/**
 * `npm run bench fixes`: how long one more correction takes on a take of five minutes, beside the goal
 * of 100 ms: at the start, in the middle and at the end, and many in a row from left to right. Takes are
 * recordings of the development set of tests/perform, end to end. Times are processor time of a warm process.
 * What `prepareFixes` makes stands apart, since no user waits for it. Options: `--minutes N` (5), `--kind WORD` (all three).
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import {
  fixBeats,
  gatherBeatEvidence,
  inferBeats,
  prepareFixes,
  shownBeats,
  startBeats,
} from '../../shared/hear/beats/beats.ts';
import { hearAttacks } from '../../shared/hear/onsets/onsets.ts';
import { median } from '../../shared/math/median.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { type Audio, secondsOf } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { nextFix } from '../metrics/correcting-person.ts';
import { folderOf, makeSet } from '../perform/make.ts';
import { sessionsOf } from '../perform/sets.ts';
import type { Truth } from '../perform/truth.ts';

const { values } = parseArgs({
  options: {
    minutes: { type: 'string', default: '5' },
    kind: { type: 'string', default: '' },
  },
});
const folder = folderOf('dev');

/** Recordings of one kind end to end, and their beats. */
function longTake(kind: string, seconds: Seconds): { audio: Audio; beats: Seconds[] } {
  makeSet('dev', folder, kind, true, (truth) => console.error(`made ${truth.name}`));
  const names = [...sessionsOf('dev')].filter((one) => one.kind === kind).map((one) => one.name);
  const pieces: Audio[] = [];
  const beats: Seconds[] = [];
  let at = 0;
  for (let i = 0; at < seconds; i++) {
    const name = names[i % names.length];
    const { audio } = readWav(readFileSync(join(folder, `${name}.wav`)), name);
    const truth = JSON.parse(readFileSync(join(folder, `${name}.json`), 'utf8')) as Truth;
    const from = at;
    beats.push(...truth.beats.map((beat) => from + beat.time));
    pieces.push(audio);
    at += secondsOf(audio);
  }
  const { sampleRate, channels } = pieces[0];
  const joined = channels.map((_, c) => {
    const samples = new Float32Array(
      pieces.reduce((sum, piece) => sum + piece.channels[c].length, 0),
    );
    let end = 0;
    for (const piece of pieces) {
      samples.set(piece.channels[c], end);
      end += piece.channels[c].length;
    }
    return samples.subarray(0, Math.round(seconds * sampleRate));
  });
  return {
    audio: { sampleRate, channels: joined },
    beats: beats.filter((beat) => beat < seconds - 1),
  };
}

function milliseconds<T>(work: () => T): [T, number] {
  const start = process.cpuUsage();
  const result = work();
  const { user, system } = process.cpuUsage(start);
  return [result, (user + system) / 1000];
}

const goal = 100;
const minutes = Number(values.minutes);
const lines = [
  '| kind   | onsets | prepared | start | middle | end | in a row: longest | median | corrections | goal |',
  '| ------ | ------ | -------- | ----- | ------ | --- | ----------------- | ------ | ----------- | ---- |',
];
for (const kind of ['piano', 'trio', 'steady'].filter((one) => one.includes(values.kind))) {
  const { audio, beats } = longTake(kind, 60 * minutes);
  const evidence = gatherBeatEvidence(audio, hearAttacks(audio).possible);
  // Hearing has inferred them when fixes are prepared.
  inferBeats(evidence, []);
  const free = startBeats(evidence);
  const [, prepared] = milliseconds(() => prepareFixes(evidence));
  const fixed = (state: typeof free, fix: Parameters<typeof fixBeats>[2]) =>
    milliseconds(() => {
      const after = fixBeats(evidence, state, fix);
      shownBeats(evidence, after);
      return after;
    });
  // Compiled once before anything is timed.
  for (const beat of beats.slice(0, 4)) fixed(free, { beat });
  const single = [4, beats.length >> 1, beats.length - 4].map(
    (i) => fixed(free, { beat: beats[i] })[1],
  );
  const row: number[] = [];
  let state = free;
  for (let fix = nextFix(beats, state.times); fix; fix = nextFix(beats, state.times)) {
    const [after, took] = fixed(state, fix);
    state = after;
    row.push(took);
    if (row.length >= 40 * minutes) break;
  }
  const whole = (ms: number) => ms.toFixed(0);
  lines.push(
    `| ${kind} | ${evidence.times.length} | ${whole(prepared)} | ${single.map(whole).join(' | ')} | ${whole(Math.max(...row))} | ${whole(median(row))} | ${row.length} | ${goal} |`,
  );
}
console.log(`One correction, ms, on ${minutes} minutes\n\n${lines.join('\n')}`);
