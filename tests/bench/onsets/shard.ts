import { ANALYSIS_RATE, toAnalysisRate } from '../../../shared/hear/analysis-rate.ts';
import {
  CELL,
  cellsOf,
  FEATURES,
  type Levels,
  VIEWS,
  viewLevels,
} from '../../../shared/hear/onset-features.ts';
import { mixForHearing } from '../../../shared/hear/onset-mix.ts';
import { gather, PARTS } from '../../../shared/hear/onset-net.ts';
import { makeRandom } from '../../../shared/math/random.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { renderLesson } from './lesson-audio.ts';
import { makeLesson } from './lesson-music.ts';

/** A recording ready to learn from. */
export interface Example {
  readonly kind: string;
  readonly levels: readonly Levels[];
  readonly cells: number;
  /** True onsets in seconds. */
  readonly onsets: readonly number[];
  /** Share of an onset that lies in each part of each cell. */
  readonly wanted: Float32Array;
}

const MERGE = 0.03;

export function mergeAttacks(times: readonly number[]): number[] {
  const merged: number[] = [];
  for (const time of times)
    if (merged.length === 0 || time - merged[merged.length - 1] >= MERGE) merged.push(time);
  return merged;
}

function wantedFor(onsets: readonly number[], cells: number): Float32Array {
  const wanted = new Float32Array(cells * PARTS);
  for (const time of onsets) {
    const place = ((time * ANALYSIS_RATE) / CELL + 0.5) * PARTS - 0.5;
    const part = Math.floor(place);
    const share = place - part;
    if (part >= 0 && part < wanted.length) wanted[part] = Math.min(1, wanted[part] + 1 - share);
    if (part + 1 >= 0 && part + 1 < wanted.length)
      wanted[part + 1] = Math.min(1, wanted[part + 1] + share);
  }
  return wanted;
}

export function exampleOf(audio: Audio, onsets: readonly number[], kind: string): Example {
  const signal = toAnalysisRate(mixForHearing(audio), audio.sampleRate);
  const cells = cellsOf(signal);
  return { kind, levels: viewLevels(signal), cells, onsets, wanted: wantedFor(onsets, cells) };
}

/** The examples that one lesson gives: clean, and as an old record. */
export function examplesOf(seed: number, fonts: readonly string[], seconds: number): Example[] {
  const lesson = makeLesson(seed, seconds);
  const font = fonts[seed % 3 === 2 ? fonts.length - 1 : 0];
  return renderLesson(lesson, font).map(({ channels, rate, attacks }, i) => {
    const onsets = mergeAttacks(attacks.map((attack) => attack.time));
    return exampleOf({ sampleRate: rate, channels }, onsets, `${lesson.kind}${i ? '-old' : ''}`);
  });
}

/** Mean and spread of each band of each view, as sums: count, sum, sum of squares for each band. */
export function bandSums(examples: readonly Example[]): Float64Array {
  const bands = VIEWS.map((view) => view.edges.length - 1);
  const sums = new Float64Array(3 * bands.reduce((a, b) => a + b, 0));
  for (const { levels } of examples) {
    let base = 0;
    for (const one of levels) {
      for (let i = 0; i < one.data.length; i++) {
        const at = base + 3 * (i % one.bands);
        sums[at]++;
        sums[at + 1] += one.data[i];
        sums[at + 2] += one.data[i] ** 2;
      }
      base += 3 * one.bands;
    }
  }
  return sums;
}

/** An endless, seeded walk over examples' cells: all near an onset, a share of the others. */
export class CellWalk {
  private readonly random: () => number;
  private order: Uint32Array = new Uint32Array(0);
  private next = 0;
  private readonly near: Uint8Array;
  private readonly starts: number[] = [];
  private readonly examples: readonly Example[];
  constructor(examples: readonly Example[], seed: number) {
    this.examples = examples;
    this.random = makeRandom(seed);
    let total = 0;
    for (const { cells } of examples) {
      this.starts.push(total);
      total += cells;
    }
    this.near = new Uint8Array(total);
    examples.forEach(({ onsets, cells }, e) => {
      for (const time of onsets) {
        const at = Math.round((time * ANALYSIS_RATE) / CELL);
        for (let k = Math.max(0, at - 3); k <= Math.min(cells - 1, at + 3); k++)
          this.near[this.starts[e] + k] = 1;
      }
    });
  }

  /** Fills one row of `x` and `y`; returns the example's weight. */
  take(x: Float32Array, y: Float32Array): number {
    if (this.next >= this.order.length) this.shuffle();
    const cell = this.order[this.next++];
    let e = 0;
    let high = this.starts.length - 1;
    while (e < high) {
      const middle = (e + high + 1) >> 1;
      if (this.starts[middle] <= cell) e = middle;
      else high = middle - 1;
    }
    const example = this.examples[e];
    const own = cell - this.starts[e];
    gather(example.levels, own, x);
    for (let p = 0; p < PARTS; p++) y[p] = example.wanted[own * PARTS + p];
    return this.near[cell] ? 1 : 1 / FAR_SHARE;
  }

  private shuffle(): void {
    const kept: number[] = [];
    for (let i = 0; i < this.near.length; i++)
      if (this.near[i] || this.random() < FAR_SHARE) kept.push(i);
    for (let i = kept.length - 1; i > 0; i--) {
      const j = Math.floor(this.random() * (i + 1));
      [kept[i], kept[j]] = [kept[j], kept[i]];
    }
    this.order = Uint32Array.from(kept);
    this.next = 0;
  }
}

const FAR_SHARE = 0.35;
export const WIDTH = FEATURES;
