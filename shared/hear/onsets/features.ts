import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Hertz, Samples } from '../../math/units.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import { bandReader, toDoublings } from '../band-levels.ts';
import type { HearingSignal } from '../hearing-signal.ts';

/** Samples of one cell of time (about 10 ms), for which the decision about an onset is taken. */
export const CELL: Samples = 220;

/** One way of looking at the sound: bands of a short-time spectrum, some frames round each cell. */
export interface View {
  /** Window in samples. */
  readonly size: Samples;
  /** Frames in a cell. */
  readonly perCell: number;
  /** Edges of the bands, in bins. */
  readonly edges: readonly number[];
  /** First frame that belongs to a cell, counted from the frame on its centre. */
  readonly from: number;
  /** How many frames belong to a cell, and how far each is from the next. */
  readonly frames: number;
  readonly step: number;
  /** What the signal's rate is divided by first, the window with it. */
  readonly thin: 1 | 4;
}

/**
 * Long windows tell notes apart, the longest the low ones; short ones attacks close together, the
 * shortest when they begin.
 */
export const VIEWS: readonly View[] = [
  view(1024, 1, bandEdges(1024, 43, 10000, 8), { from: -4, frames: 10 }),
  view(2048, 1, bandEdges(2048, 32, 1500, 16), { from: -8, frames: 9, step: 2, thin: 4 }),
  view(256, 2, bandEdges(256, 86, 10000, 3), { from: -6, frames: 14 }),
  view(64, 4, [0, 1, 2, 4, 8, 16, 31], { from: -6, frames: 14 }),
];

/** Frames of silence before the first and after the last one, so that every cell has its neighbours. */
export const MARGIN = 9;

/** Numbers that describe a cell, over all views. */
export const FEATURES = VIEWS.reduce((sum, v) => sum + v.frames * (v.edges.length - 1), 0);

function view(
  size: Samples,
  perCell: number,
  edges: readonly number[],
  frames: Pick<View, 'from' | 'frames'> & Partial<View>,
): View {
  return { size, perCell, edges, step: 1, thin: 1, ...frames };
}

/** Bands as wide as a bin at the bottom and `perOctave` to the octave above. */
function bandEdges(size: Samples, low: Hertz, high: Hertz, perOctave: number): number[] {
  const edges: number[] = [];
  for (let f = low; f < high * 2 ** (1 / perOctave); f *= 2 ** (1 / perOctave)) {
    const bin = Math.round((f * size) / ANALYSIS_RATE);
    if (bin > (edges[edges.length - 1] ?? -1)) edges.push(Math.min(bin, size / 2));
  }
  return edges;
}

/** What one view sees: levels in rows of `bands`, a row a frame, frame by frame. */
export interface Levels {
  readonly view: View;
  readonly bands: number;
  readonly data: Float32Array;
}

/** Where in `data` the row of the frame on a cell's centre begins. */
export function cellOffset(levels: Levels, cell: number): number {
  return (MARGIN + cell * levels.view.perCell) * levels.bands;
}

/** Where in `data` the row nearest to a frame begins that lies within the recording. */
export function rowWithin(levels: Levels, frame: number): number {
  const { bands, data } = levels;
  const frames = data.length / bands - 2 * MARGIN;
  return (MARGIN + Math.min(frames - 1, Math.max(0, frame))) * bands;
}

/** Cells of a signal: cell n is centred on n cells' length. */
export function cellsOf(signal: Float32Array): number {
  return Math.floor(signal.length / CELL) + 1;
}

/** What every view sees, and the amplitude that counts as nothing. */
export interface Views {
  readonly levels: readonly Levels[];
  readonly floor: number;
}

/**
 * Levels of every view, in doublings above a floor 70 dB under the recording's loud moments, so that
 * neither its gain nor what nobody hears changes them. There is silence before and after the recording.
 */
export function viewLevels(
  sound: Pick<HearingSignal, 'whole' | 'quarter'>,
  kernel: Kernels | null = kernels(),
): Views {
  const cells = cellsOf(sound.whole);
  const all = VIEWS.map((one) => {
    const bands = one.edges.length - 1;
    const count = cells * one.perCell;
    const data = new Float32Array((count + 2 * MARGIN) * bands);
    const framing = {
      size: one.size / one.thin,
      hop: CELL / one.perCell / one.thin,
      edges: one.edges,
    };
    const signal = one.thin === 1 ? sound.whole : sound.quarter;
    bandReader(framing, kernel)(signal, 0, count, data, MARGIN * bands);
    return { view: one, bands, data };
  });
  const floor = loudReference(all[0], kernel) * 10 ** (-70 / 20);
  for (const { data } of all)
    if (floor > 0) toDoublings(data, 1 / floor, kernel);
    else data.fill(0);
  return { levels: all, floor };
}

/** The amplitude that the louder moments reach: 95th percentile over the frames that sound at all. */
function loudReference({ bands, data }: Levels, kernel: Kernels | null): number {
  const frames = data.length / bands;
  const totals = rowNorms(data, frames, bands, kernel).sort();
  let from = 0;
  while (from < frames - 1 && totals[from] < totals[frames - 1] * 1e-3) from++;
  return totals[from + Math.floor(0.95 * (frames - 1 - from))];
}

/** Rows that are handed to the kernels at once: their memory never shrinks. */
const ROWS_TOGETHER = 512;

/** Root of the sum of the squares of each row of `n` numbers. */
export function rowNorms(
  data: Float32Array,
  rows: number,
  n: number,
  kernel: Kernels | null,
): Float32Array {
  if (!kernel)
    return Float32Array.from({ length: rows }, (_, r) => {
      let sum = 0;
      for (let i = r * n; i < (r + 1) * n; i++) sum += data[i] * data[i];
      return Math.sqrt(sum);
    });
  const out = new Float32Array(rows);
  const room = new KernelRoom(kernel);
  const x = room.place(ROWS_TOGETHER * n * 4);
  const norms = room.place(ROWS_TOGETHER * 4);
  const given = room.floats(x, ROWS_TOGETHER * n);
  const found = room.floats(norms, ROWS_TOGETHER);
  for (let r = 0; r < rows; r += ROWS_TOGETHER) {
    const count = Math.min(ROWS_TOGETHER, rows - r);
    given.set(data.subarray(r * n, (r + count) * n));
    kernel.rowNorms(x, count, n, norms);
    out.set(found.subarray(0, count), r);
  }
  return out;
}
