import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import { CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import type { Tuning } from './tuning.ts';

/** Intervals between onsets around an onset that make its shape: from this many before to after. */
const BEFORE = 3;
const AFTER = 3;
const SHAPE = BEFORE + AFTER;
/** Cues that take part in likeness: the first ones, which look at the onset alone. */
const COLOUR_CUES = 8;
const COLOUR = COLOUR_CUES + 36;
/** Numbers beyond the last onset that are read and not used. */
const BEYOND = 16;

/** What likeness is measured by: `SHAPE` and `COLOUR` rows of one number an onset, each `room` long. */
export interface Looks {
  readonly room: number;
  readonly rows: Float32Array;
}

const known = new WeakMap<BeatEvidence, Looks>();

/** What onsets look like to each other; made once for a take. */
export function looksOf(evidence: BeatEvidence, tuning: Tuning): Looks {
  const made = known.get(evidence) ?? looks(evidence, tuning);
  known.set(evidence, made);
  return made;
}

function looks({ times, cues, fresh }: BeatEvidence, tuning: Tuning): Looks {
  const n = times.length;
  const room = n + BEYOND;
  const rows = new Float32Array((SHAPE + COLOUR) * room);
  const gap = (i: number) =>
    i > 0 && i < n ? Math.log(Math.min(2, Math.max(0.04, times[i] - times[i - 1]))) : Math.log(2);
  const near = Math.sqrt(tuning.likeFresh / 2);
  const side = Math.sqrt(tuning.likeFresh / 4);
  const cue = Math.sqrt(tuning.likeCue);
  for (let i = 0; i < n; i++) {
    for (let q = 0; q < SHAPE; q++) rows[q * room + i] = gap(i + q - BEFORE + 1);
    for (let c = 0; c < COLOUR_CUES; c++) rows[(SHAPE + c) * room + i] = cue * cues[i * CUES + c];
    for (let d = -1; d <= 1; d++)
      if (i + d >= 0 && i + d < n)
        for (let c = 0; c < 12; c++)
          rows[(SHAPE + COLOUR_CUES + (d + 1) * 12 + c) * room + i] =
            (d === 0 ? near : side) * fresh[(i + d) * 12 + c];
  }
  return { room, rows };
}

function shapeWeights(tuning: Tuning): number[] {
  return Array.from({ length: SHAPE }, (_, q) =>
    q === BEFORE - 1 || q === BEFORE ? tuning.likeGap : tuning.likeShape,
  );
}

/**
 * How alike an onset and each one from `first` to `until` are, 0 to 1. What the function gives back is
 * written over at its next call; it must be done with before any other kernel runs.
 */
export function likenessesTo(
  looks: Looks,
  first: number,
  until: number,
  tuning: Tuning,
): (i: number) => Float32Array {
  const kernel = kernels();
  if (!kernel) return likenessesSlowly(looks, first, until, tuning);
  const place = new KernelRoom(kernel);
  const { out, find } = likenessesIn(kernel, place, looks, first, until, tuning);
  const found = place.floats(out, Math.max(0, until - first));
  return (i) => {
    find(i);
    return found;
  };
}

/** The same left where kernels found it: at `out`, for an onset at a time. */
export function likenessesIn(
  kernel: Kernels,
  place: KernelRoom,
  { room, rows }: Looks,
  first: number,
  until: number,
  tuning: Tuning,
): { readonly out: number; readonly find: (i: number) => void } {
  const count = Math.max(0, until - first);
  const measures = place.keep(rows);
  const weights = place.keep(shapeWeights(tuning));
  const out = place.place(4 * (count + BEYOND));
  const sharp = 1 / tuning.likeWidth ** 2;
  return {
    out,
    find: (i) =>
      kernel.likenesses(measures, room, SHAPE, weights, COLOUR, sharp, i, first, count, out),
  };
}

/** The plain form of both. */
export function likenessesSlowly(
  { room, rows }: Looks,
  first: number,
  until: number,
  tuning: Tuning,
): (i: number) => Float32Array {
  const weights = shapeWeights(tuning);
  const sharp = 1 / tuning.likeWidth ** 2;
  const found = new Float32Array(Math.max(0, until - first));
  return (i) => {
    for (let k = first; k < until; k++) {
      let apart = 0;
      for (let q = 0; q < SHAPE; q++) {
        const u = rows[q * room + i] - rows[q * room + k];
        apart += weights[q] * Math.min(1, 2 * u * u);
      }
      for (let q = SHAPE; q < SHAPE + COLOUR; q++) {
        const u = rows[q * room + i] - rows[q * room + k];
        apart += u * u;
      }
      found[k - first] = Math.exp(-apart * sharp);
    }
    return found;
  };
}
