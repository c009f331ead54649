import { KernelRoom, type Kernels, ownKernels } from '../../math/kernel.ts';
import type { Seconds } from '../../math/units.ts';
import { likenessRow, type Material, row } from './material.ts';

/** What comes back in a take, frame by frame of its material. */
export interface Repeats {
  readonly hop: Seconds;
  /**
   * How clearly a passage that is heard elsewhere too, higher or lower or as it is, begins at each
   * frame: likeness from there on, less half the likeness up to there.
   */
  readonly begins: Float64Array;
  /** Twelve numbers a frame: how like an earlier passage it goes on, that many semitones higher. */
  readonly goesOn: Float64Array;
}

/** A passage and its return lie this far apart at least. */
const apart: Seconds = 4;
/** How far ahead and back the likeness reaches (an exponential window). */
const reach: Seconds = 5;
/** Likeness of what is not in the take: usual after its end, none before its start. */
const beyond = 0.35;
const backShare = 0.5;

/**
 * Compares every frame with every earlier one in all twelve transpositions, along the best path
 * with steps of one or two frames on either side (the steps of Serra, Gomez, Herrera and Serra 2008,
 * "Chroma binary similarity and local alignment applied to cover song identification", IEEE TASLP 16(6);
 * the recursion adds likeness under an exponential window in place of their count of matches).
 */
export function hearRepeats(material: Material, kernel: Kernels | null = ownKernels()): Repeats {
  return kernel ? repeatsByKernel(material, kernel) : repeatsPlainly(material);
}

/** The working memory is large and wanted once: it goes with the kernels. */
function repeatsByKernel({ frames, hop }: Material, kernel: Kernels): Repeats {
  const n = frames.length / row;
  const least = Math.round(apart / hop);
  const width = n + 3;
  const room = new KernelRoom(kernel);
  const twelve = room.place(12 * n * 8);
  const own = room.place(frames.length * 8);
  const [here, back, rows] = [n, n + 2, 3].map((count) => room.place(count * width * 4));
  const begins = room.place(n * 8);
  const goesOn = room.place(n * 12 * 8);
  room.doubles(own, frames.length).set(frames);
  const columns = room.doubles(twelve, 12 * n);
  for (let i = 0; i < n; i++) for (let c = 0; c < 12; c++) columns[c * n + i] = frames[i * row + c];
  for (let up = 0; up < 12; up++)
    kernel.repeatsAt(
      ...([twelve, n, own + up * 8, row * 8, n, least, Math.exp(-hop / reach)] as const),
      ...([beyond, backShare, here, back, rows, begins, goesOn + up * 8] as const),
    );
  return {
    hop,
    begins: room.doubles(begins, n).slice(),
    goesOn: room.doubles(goesOn, n * 12).slice(),
  };
}

function repeatsPlainly({ frames, hop }: Material): Repeats {
  const n = frames.length / row;
  const least = Math.round(apart / hop);
  const begins = new Float64Array(n);
  const goesOn = new Float64Array(n * 12);
  // Row i holds the earlier frames 0 to i - least; the room on both sides is never a better step.
  const width = n + 3;
  const here = new Float32Array(n * width);
  const back = new Float32Array((n + 2) * width);
  for (let up = 0; up < 12; up++) {
    for (let i = least; i < n; i++) likenessRow(frames, i, up, i - least + 1, here, i * width);
    pathsUpTo(here, back, n, least, Math.exp(-hop / reach));
    pathsFrom(here, back, n, least, Math.exp(-hop / reach), begins, goesOn.subarray(up));
  }
  return { hop, begins, goesOn };
}

/** Likeness along the best path up to each pair; `back` lies two rows and two columns further on. */
function pathsUpTo(
  here: Float32Array,
  back: Float32Array,
  n: number,
  least: number,
  keep: number,
): void {
  const width = n + 3;
  for (let i = least; i < n; i++) {
    const at = (i + 2) * width + 2;
    const one = at - width;
    const two = one - width;
    const x = i * width;
    for (let j = 0; j <= i - least; j++) {
      const a = back[one + j - 1];
      const b = back[one + j - 2];
      const c = back[two + j - 1];
      const best = Math.max(a, Math.max(b, c));
      back[at + j] = (1 - keep) * here[x + j] + keep * best;
    }
  }
}

/** Likeness along the best path on from each pair, and what is most for each frame. */
function pathsFrom(
  here: Float32Array,
  back: Float32Array,
  n: number,
  least: number,
  keep: number,
  begins: Float64Array,
  goesOn: Float64Array,
): void {
  const width = n + 3;
  let next = new Float32Array(width).fill(beyond);
  let afterNext = new Float32Array(width).fill(beyond);
  let now = new Float32Array(width);
  for (let i = n - 1; i >= least; i--) {
    const x = i * width;
    const before = (i + 1) * width + 1;
    let mostBegun = begins[i];
    let mostOn = goesOn[i * 12];
    // What lies past this row's last pair is no step.
    next[i - least + 2] = -1;
    for (let j = i - least; j >= 0; j--) {
      const a = next[j + 1];
      const b = next[j + 2];
      const c = afterNext[j + 1];
      const best = Math.max(a, Math.max(b, c));
      const ahead = (1 - keep) * here[x + j] + keep * best;
      now[j] = ahead;
      const begun = ahead - backShare * back[before + j];
      if (begun > mostBegun) mostBegun = begun;
      if (begun > begins[j]) begins[j] = begun;
      if (ahead > mostOn) mostOn = ahead;
    }
    if (mostBegun > begins[i]) begins[i] = mostBegun;
    goesOn[i * 12] = mostOn;
    const spare = afterNext;
    afterNext = next;
    next = now;
    now = spare;
  }
}
