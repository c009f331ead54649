import { KernelRoom, type Kernels, ownKernels } from '../../math/kernel.ts';
import { CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';

/**
 * How alike two onsets of a take are by the passages they stand in: `weights[(i + 1) * reach + k - i]`
 * is the weight that onset `k`, one of the `reach` onsets before it, has for onset `i`.
 */
export interface Likeness {
  /** Onsets are compared with as many before them. */
  readonly reach: number;
  readonly weights: Float32Array;
}

/** Worth of a pair that is alike in everything, and what difference in rhythm, harmony and sound takes from it. */
const SAME = 0.7;
const RHYTHM = 0.78;
const HARMONY = 0.5;
const SOUND = 0.02;
/** What is kept of a passage's worth from one onset to the next, and what an onset too many costs. */
const KEEP = 0.9;
const SKIP = 0.84;
/** What being transposed costs. */
const MOVED = 0.41;
/** A passage worth this much more weighs e times as much. */
const SCALE = 0.466;
/** Cues that look at the onset alone, the first ones. */
const OWN_CUES = 8;
/** Pairs that are compared at most: where there are more, onsets far apart are not. */
const PAIRS = 4e6;

const known = new WeakMap<BeatEvidence, Likeness>();

/**
 * Compares all onsets with all before them, once for each take. A pair is worth what the best local
 * alignment through it collects (Smith and Waterman 1981, J. Mol. Biol. 147) in whichever of the
 * twelve transpositions fits best, forgetting with distance on both sides: what returns is known again
 * by what leads to it and follows. The constants were fitted on our own recordings to tell onsets that
 * carry beats from others.
 */
export function likenessOf(evidence: BeatEvidence): Likeness {
  const made = known.get(evidence) ?? compared(evidence);
  known.set(evidence, made);
  return made;
}

/** How far back onsets are compared: a whole number of fours. */
function reachFor(n: number): number {
  return n < 2 ? 0 : Math.ceil(Math.min(n - 1, Math.max(1, PAIRS / n)) / 4) * 4;
}

function compared(evidence: BeatEvidence): Likeness {
  // The working memory is large and wanted once: it goes with the kernels.
  const kernel = ownKernels();
  return kernel ? comparedFast(evidence, kernel) : comparedSlowly(evidence);
}

/** The same by kernels, which hold a band of pairs in columns that run with the earlier onset. */
function comparedFast({ times, cues, fresh }: BeatEvidence, kernel: Kernels): Likeness {
  const n = times.length;
  const reach = reachFor(n);
  const weights = new Float32Array(n * reach);
  if (n < 2) return { reach, weights };
  const room = new KernelRoom(kernel);
  const width = reach + 8 + n;
  /** Rows of measures, one number an onset each. */
  const rows = (count: number, of: (row: number, i: number) => number) => {
    const all = new Float32Array(count * width);
    for (let row = 0; row < count; row++)
      for (let i = 0; i < n; i++) all[row * width + reach + 4 + i] = of(row, i);
    return room.keep(all);
  };
  const gaps = logGaps(times);
  const measures = rows(1 + OWN_CUES, (row, i) => (row === 0 ? gaps[i] : cues[i * CUES + row - 1]));
  const classes = rows(12, (row, i) => fresh[i * 12 + row]);
  const stride = reach + 8;
  // A row before the first, and four columns before that.
  const band = () => room.place(4 * ((n + 1) * stride + 4)) + 4 * (stride + 4);
  const [plain, worth, before, best] = [band(), band(), band(), band()];
  const turned = room.place(4 * 48);
  const next = room.place(4 * (2 * stride + 8)) + 16;
  room.floats(best, n * stride).fill(Number.NEGATIVE_INFINITY);
  kernel.pairsWithoutHarmony(
    measures,
    width,
    OWN_CUES,
    n,
    reach,
    SAME - HARMONY,
    RHYTHM,
    SOUND,
    plain,
    stride,
  );
  for (let turn = 0; turn < 12; turn++) {
    kernel.pairsLedTo(
      classes,
      width,
      n,
      reach,
      turn,
      HARMONY,
      KEEP,
      SKIP,
      plain,
      worth,
      before,
      stride,
      turned,
    );
    room.floats(next - 16, 2 * stride + 8).fill(0);
    const cost = turn === 0 ? 0 : MOVED;
    kernel.pairsFollowed(n, reach, cost, KEEP, SKIP, worth, before, best, stride, next);
  }
  kernel.exponentials(best, n * stride, SCALE, best);
  const found = room.floats(best, n * stride);
  for (let i = 1; i < n; i++) {
    const first = Math.max(0, reach - i);
    weights.set(found.subarray(i * stride + first, i * stride + reach), i * reach + first);
  }
  return { reach, weights };
}

/** The plain form of the above. */
export function comparedSlowly(evidence: BeatEvidence): Likeness {
  const n = evidence.times.length;
  const reach = reachFor(n);
  const plain = worthWithoutHarmony(evidence, reach);
  const worth = new Float32Array(n * reach);
  const before = new Float32Array(n * reach);
  const best = new Float32Array(n * reach).fill(-Infinity);
  for (let turn = 0; turn < 12; turn++) {
    leadingTo(evidence, reach, turn, plain, worth, before);
    following(n, reach, turn === 0 ? 0 : MOVED, worth, before, best);
  }
  const weights = new Float32Array(n * reach);
  for (let i = 1; i < n; i++)
    for (let d = 1; d <= Math.min(i, reach); d++)
      weights[(i + 1) * reach - d] = Math.exp(best[i * reach + d - 1] / SCALE);
  return { reach, weights };
}

/** Natural log of the time since the onset before each, held between what still tells. */
function logGaps(times: Float64Array): Float64Array {
  return times.map((time, i) =>
    Math.log(i > 0 ? Math.min(2, Math.max(0.04, time - times[i - 1])) : 2),
  );
}

function worthWithoutHarmony({ times, cues }: BeatEvidence, reach: number): Float32Array {
  const n = times.length;
  const gaps = logGaps(times);
  const worth = new Float32Array(n * reach);
  for (let i = 1; i < n; i++)
    for (let d = 1; d <= Math.min(i, reach); d++) {
      const k = i - d;
      const gap = gaps[i] - gaps[k];
      let sound = 0;
      for (let c = 0; c < OWN_CUES; c++) {
        const apart = cues[i * CUES + c] - cues[k * CUES + c];
        sound += apart * apart;
      }
      worth[i * reach + d - 1] =
        SAME - HARMONY - RHYTHM * Math.min(1, 2 * gap * gap) - SOUND * sound;
    }
  return worth;
}

/** Worth of each pair at one transposition, and with all that leads to it. */
function leadingTo(
  { times, fresh }: BeatEvidence,
  reach: number,
  turn: number,
  plain: Float32Array,
  worth: Float32Array,
  before: Float32Array,
): void {
  const n = times.length;
  const turned = new Float64Array(12);
  for (let i = 1; i < n; i++) {
    for (let c = 0; c < 12; c++) turned[c] = HARMONY * fresh[i * 12 + ((c + turn) % 12)];
    const row = i * reach - 1;
    const last = row - reach;
    const older = last - reach;
    for (let d = 1; d <= Math.min(i, reach); d++) {
      const k = (i - d) * 12;
      let own = plain[row + d];
      for (let c = 0; c < 12; c++) own += turned[c] * fresh[k + c];
      worth[row + d] = own;
      let led = 0;
      if (d < i) {
        led = before[last + d];
        if (d > 1) led = Math.max(led, before[older + d - 1] - SKIP);
        if (d < i - 1 && d < reach) led = Math.max(led, before[last + d + 1] - SKIP);
      }
      before[row + d] = own + KEEP * Math.max(0, led);
    }
  }
}

/** Adds what follows each pair, and keeps the best transposition. */
function following(
  n: number,
  reach: number,
  cost: number,
  worth: Float32Array,
  before: Float32Array,
  best: Float32Array,
): void {
  let next = new Float32Array(reach + 2);
  let later = new Float32Array(reach + 2);
  let here = new Float32Array(reach + 2);
  for (let i = n - 1; i > 0; i--) {
    const row = i * reach - 1;
    const most = Math.min(i, reach);
    for (let d = 1; d <= most; d++) {
      let after = next[d];
      if (d < reach) after = Math.max(after, later[d + 1] - SKIP);
      if (d > 1) after = Math.max(after, next[d - 1] - SKIP);
      const rest = KEEP * Math.max(0, after);
      here[d] = worth[row + d] + rest;
      const whole = before[row + d] + rest - cost;
      if (whole > best[row + d]) best[row + d] = whole;
    }
    const spare = later;
    later = next;
    next = here;
    here = spare;
  }
}
