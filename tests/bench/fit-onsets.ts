/**
 * Teaches the ear what an attack looks like and writes `shared/hear/onset-weights.ts`.
 *
 *   npx tsx tests/bench/fit-onsets.ts [--lessons 640] [--epochs 6] [--workers 16] [--hidden 48,20]
 *
 * Needs fluidsynth with FluidR3_GM (and, if there, MuseScore_General; both MIT). Lessons are dealt out to a
 * fixed number of shards, and gradients are added in the shards' order, so the same options give the
 * same weights on any number of workers.
 */
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads';
import { FEATURES, VIEWS } from '../../shared/hear/onset-features.ts';
import { likelihoods, type OnsetNet } from '../../shared/hear/onset-net.ts';
import { pickAttacks } from '../../shared/hear/onset-picking.ts';
import { Adam, firstParameters, type Shape, shapeOf, Teacher } from './onsets/perceptron.ts';
import { bandSums, CellWalk, type Example, examplesOf } from './onsets/shard.ts';
import { writeWeights } from './onsets/write-weights.ts';

const SHARDS = 16;
const BATCH = 512;
const LESSON_SECONDS = 40;
const FONTS = [
  process.env.LESSON_FONT ?? '/usr/share/sounds/sf2/FluidR3_GM.sf2',
  process.env.LESSON_FONT_2 ?? '/usr/share/sounds/sf2/MuseScore_General_Full.sf2',
].filter((path) => existsSync(path));

interface Setting {
  readonly index: number;
  readonly workers: number;
  readonly lessons: number;
  readonly shape: Shape;
  readonly parameters: Float32Array;
  readonly gradients: Float32Array;
  readonly losses: Float64Array;
  /** Turn, workers that have finished it, and whether training is over. */
  readonly signal: Int32Array;
}

/** Every eighth round of lessons is kept back to see how well the rest taught. */
const isHeldBack = (seed: number) => Math.floor(seed / SHARDS) % 8 === 0;

function work(setting: Setting): void {
  const { index, workers, lessons, shape, parameters, gradients, losses, signal } = setting;
  const own: number[] = [];
  for (let s = index; s < SHARDS; s += workers) own.push(s);
  const shards = own.map((shard) => {
    const examples: Example[] = [];
    for (let seed = shard; seed < lessons; seed += SHARDS)
      if (!isHeldBack(seed)) examples.push(...examplesOf(seed, FONTS, LESSON_SECONDS));
    return { shard, examples };
  });
  const held: Example[] = [];
  for (let seed = index; seed < lessons; seed += workers)
    if (isHeldBack(seed)) held.push(...examplesOf(seed, FONTS, LESSON_SECONDS));
  const sums = shards.map(({ shard, examples }) => ({ shard, sums: bandSums(examples) }));
  const onsets = shards.flatMap(({ examples }) => examples.map((e) => e.onsets.length));
  parentPort?.postMessage({ sums, onsets: onsets.reduce((a, b) => a + b, 0) });
  parentPort?.once('message', (moments: { mean: Float32Array; scale: Float32Array }) => {
    for (const example of [...shards.flatMap((s) => s.examples), ...held])
      standardise(example, moments);
    const walks = shards.map(({ shard, examples }) => ({
      shard,
      walk: new CellWalk(examples, 1000 + shard),
    }));
    const teacher = new Teacher(shape);
    const x = new Float32Array(FEATURES);
    const y = new Float32Array(4);
    for (let turn = 1; ; turn++) {
      Atomics.wait(signal, 0, turn - 1);
      if (Atomics.load(signal, 2)) break;
      for (const { shard, walk } of walks) {
        const gradient = gradients.subarray(shard * shape.total, (shard + 1) * shape.total);
        gradient.fill(0);
        losses[shard] = 0;
        for (let i = 0; i < BATCH / SHARDS; i++) {
          const weight = walk.take(x, y);
          losses[shard] += teacher.teach(parameters, x, y, weight / BATCH, gradient);
        }
      }
      Atomics.add(signal, 1, 1);
      Atomics.notify(signal, 1);
    }
    parentPort?.postMessage({ scores: score(held, netOf(parameters, shape)) });
  });
}

function standardise(
  { levels }: Example,
  { mean, scale }: { mean: Float32Array; scale: Float32Array },
): void {
  let base = 0;
  for (const { bands, data } of levels) {
    for (let i = 0; i < data.length; i++) {
      const at = base + (i % bands);
      data[i] = (data[i] - mean[at]) * scale[at];
    }
    base += bands;
  }
}

function netOf(parameters: Float32Array, shape: Shape): OnsetNet {
  const part = (i: number) => parameters.slice(shape.offsets[i], shape.offsets[i + 1]);
  return {
    hidden: shape.hidden,
    weights: [part(0), part(1), part(2)],
    biases: [part(3), part(4), part(5)],
  };
}

type Score = { threshold: number; kind: string; counts: number[] };

const THRESHOLDS = [0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5];

function score(examples: readonly Example[], net: OnsetNet): Score[] {
  return examples.flatMap(({ levels, cells, onsets, kind }) => {
    const curve = likelihoods(levels, cells, net);
    return THRESHOLDS.map((threshold) => {
      const heard = pickAttacks(curve, threshold).map((attack) => attack.time);
      const [wide, narrow, off] = [matches(onsets, heard, 0.05), matches(onsets, heard, 0.01), 0];
      return {
        threshold,
        kind,
        counts: [onsets.length, heard.length, wide.count, narrow.count, wide.error, wide.bias, off],
      };
    });
  });
}

function matches(truth: readonly number[], heard: readonly number[], within: number) {
  let [i, j, count, error, bias] = [0, 0, 0, 0, 0];
  while (i < truth.length && j < heard.length) {
    const d = heard[j] - truth[i];
    if (Math.abs(d) <= within) {
      count++;
      error += Math.abs(d);
      bias += d;
      i++;
      j++;
    } else if (d < 0) j++;
    else i++;
  }
  return { count, error, bias };
}

function report(scores: readonly Score[]): void {
  for (const threshold of THRESHOLDS) {
    for (const kind of ['', 'piano', 'trio', 'other', 'piano-old', 'trio-old', 'other-old']) {
      const sum = [0, 0, 0, 0, 0, 0];
      for (const one of scores)
        if (one.threshold === threshold && (kind === '' || one.kind === kind))
          for (let i = 0; i < 6; i++) sum[i] += one.counts[i];
      const [truth, heard, wide, narrow, error, bias] = sum;
      const f = (hits: number) => ((2 * hits) / Math.max(1, truth + heard)).toFixed(3);
      console.log(
        `${threshold} ${(kind || 'all').padEnd(9)} F50 ${f(wide)} F10 ${f(narrow)} P ${(wide / heard).toFixed(3)} R ${(wide / truth).toFixed(3)} error ${((1000 * error) / wide).toFixed(2)} bias ${((1000 * bias) / wide).toFixed(2)} ms`,
      );
    }
  }
}

function shared(floats: number): Float32Array {
  return new Float32Array(new SharedArrayBuffer(4 * floats));
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      lessons: { type: 'string', default: '640' },
      epochs: { type: 'string', default: '6' },
      workers: { type: 'string', default: '2' },
      hidden: { type: 'string', default: '48,20' },
      to: { type: 'string', default: 'shared/hear/onset-weights.ts' },
    },
  });
  const [h1, h2] = values.hidden.split(',').map(Number);
  const lessons = Number(values.lessons);
  const workers = Math.min(SHARDS, Number(values.workers));
  mkdirSync('node_modules/.cache/unclicked-lessons', { recursive: true });
  const shape = shapeOf(FEATURES, [h1, h2]);
  const parameters = shared(shape.total);
  parameters.set(firstParameters(shape, 1));
  const gradients = shared(shape.total * SHARDS);
  const losses = new Float64Array(new SharedArrayBuffer(8 * SHARDS));
  const signal = new Int32Array(new SharedArrayBuffer(12));
  const started = performance.now();
  const clock = () => `${((performance.now() - started) / 1000).toFixed(0)} s`;
  const team = Array.from({ length: workers }, (_, index) => {
    const setting: Setting = {
      index,
      workers,
      lessons,
      shape,
      parameters,
      gradients,
      losses,
      signal,
    };
    return new Worker(new URL(import.meta.url), { workerData: setting });
  });
  const answers = <T>() =>
    Promise.all(
      team.map(
        (one) =>
          new Promise<T>((resolve, reject) => {
            one.once('message', resolve);
            one.once('error', reject);
          }),
      ),
    );
  const ready = await answers<{ sums: { shard: number; sums: Float64Array }[]; onsets: number }>();
  const onsets = ready.reduce((sum, one) => sum + one.onsets, 0);
  console.log(`${onsets} onsets after ${clock()}`);
  const parts = ready.flatMap((one) => one.sums).sort((a, b) => a.shard - b.shard);
  const total = new Float64Array(parts[0].sums.length);
  for (const { sums } of parts) for (let i = 0; i < total.length; i++) total[i] += sums[i];
  const bands = total.length / 3;
  const mean = new Float32Array(bands);
  const scale = new Float32Array(bands);
  for (let b = 0; b < bands; b++) {
    mean[b] = total[3 * b + 1] / total[3 * b];
    scale[b] = 1 / (0.05 + Math.sqrt(total[3 * b + 2] / total[3 * b] - mean[b] ** 2));
  }
  for (const one of team) one.postMessage({ mean, scale });

  const cells = total[0] * 0.75;
  const steps = Math.round((Number(values.epochs) * cells) / BATCH);
  const adam = new Adam(shape.total);
  const sum = new Float32Array(shape.total);
  let loss = 0;
  for (let step = 0; step < steps; step++) {
    Atomics.store(signal, 1, 0);
    Atomics.add(signal, 0, 1);
    Atomics.notify(signal, 0);
    for (let done = Atomics.load(signal, 1); done < workers; done = Atomics.load(signal, 1))
      if (Atomics.wait(signal, 1, done, 60_000) === 'timed-out')
        throw new Error('A worker stopped teaching.');
    sum.fill(0);
    for (let s = 0; s < SHARDS; s++) {
      const from = s * shape.total;
      for (let i = 0; i < shape.total; i++) sum[i] += gradients[from + i];
      loss += losses[s];
    }
    adam.step(parameters, sum, 3e-3 * (0.5 + 0.5 * Math.cos((Math.PI * step) / steps)) + 1e-5);
    if ((step + 1) % 1000 === 0) {
      console.log(`${step + 1} of ${steps}: ${(loss / 1000).toFixed(4)} after ${clock()}`);
      loss = 0;
    }
  }
  Atomics.store(signal, 2, 1);
  Atomics.add(signal, 0, 1);
  Atomics.notify(signal, 0);
  const scores = await answers<{ scores: Score[] }>();
  writeFileSync(values.to, writeWeights(parameters, shape, mean, scale, VIEWS));
  report(scores.flatMap((one) => one.scores));
  console.log(`done after ${clock()}`);
  process.exit(0);
}

if (isMainThread) await main();
else work(workerData as Setting);
