import type { Beat } from '../../../shared/hear/heard.ts';
import type { Bpm, Seconds } from '../../../shared/math/units.ts';

export interface TempoPoint {
  readonly time: Seconds;
  readonly bpm: Bpm;
}

/** A longer stretch between two beats is a rest, not a tempo. */
const longest: Seconds = 2.2;
/** Below this confidence the tempo between two beats is not drawn. */
const believed = 0.25;

/**
 * The tempo between neighbouring beats, smoothed over three, in pieces: a gap stands where no beat is
 * believed. `low` and `high` bound all of it, with some air where it keeps near its median.
 */
export function localTempo(beats: readonly Beat[]): {
  readonly pieces: readonly (readonly TempoPoint[])[];
  readonly low: Bpm;
  readonly high: Bpm;
  readonly median: Bpm | null;
} {
  const pieces: TempoPoint[][] = [];
  let piece: TempoPoint[] = [];
  const all: Bpm[] = [];
  for (let i = 1; i < beats.length; i++) {
    const sure = Math.min(beats[i - 1].confidence, beats[i].confidence) >= believed;
    const span = beats[i].time - beats[i - 1].time;
    if (!sure || span <= 0 || span > longest) {
      if (piece.length > 1) pieces.push(piece);
      piece = [];
      continue;
    }
    const bpm = 60 / span;
    all.push(bpm);
    piece.push({ time: (beats[i - 1].time + beats[i].time) / 2, bpm });
  }
  if (piece.length > 1) pieces.push(piece);
  const sorted = all.sort((a, b) => a - b);
  const median = sorted.length ? sorted[Math.floor(sorted.length / 2)] : null;
  const middle = median ?? 90;
  const drawn = pieces.map(smooth);
  const bpms = drawn.flat().map((point) => point.bpm);
  return {
    pieces: drawn,
    low: bpms.reduce((a, b) => Math.min(a, b), middle * 0.7),
    high: bpms.reduce((a, b) => Math.max(a, b), middle * 1.3),
    median,
  };
}

function smooth(piece: readonly TempoPoint[]): TempoPoint[] {
  return piece.map((point, i) => {
    const before = piece[i - 1] ?? point;
    const after = piece[i + 1] ?? point;
    return { time: point.time, bpm: (before.bpm + 2 * point.bpm + after.bpm) / 4 };
  });
}
