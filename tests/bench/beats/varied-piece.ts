import { readFileSync } from 'node:fs';
import { evidenceFrom } from '../../../shared/hear/beats/evidence.ts';
import { BAND_EDGES } from '../../../shared/hear/beats/features.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import { Chance } from '../../perform/chance.ts';
import { fileOf, type HeardPiece } from './heard-piece.ts';

/** Natural log of the largest change of tempo; share of onsets missed at most; onsets are off by this at most. */
const TEMPO = 0.3;
const MISSED = 0.08;
const OFF: Seconds = 0.004;

/**
 * A piece as it might have been heard at another tempo: what each onset sounds like stays, the times are
 * stretched and a little off, and some onsets are missed. It costs no recording.
 */
export function variedPiece(piece: HeardPiece, seed: number): HeardPiece {
  const chance = new Chance(seed);
  const by = Math.exp(chance.between(-TEMPO, TEMPO));
  const missed = chance.between(0, MISSED);
  const off = chance.between(0, OFF);
  const raw = JSON.parse(readFileSync(fileOf(piece.name), 'utf8')) as {
    readonly onsets: readonly { readonly time: Seconds; readonly strength: number }[];
    readonly rise: readonly number[];
    readonly energy: readonly number[];
    readonly fresh: readonly number[];
    readonly chroma: readonly number[];
  };
  const kept = [...raw.onsets.keys()].filter((i) => i === 0 || !chance.odds(missed));
  const onsets = kept
    .map((i) => ({ ...raw.onsets[i], time: by * raw.onsets[i].time + chance.normal(0, off) }))
    .sort((a, b) => a.time - b.time);
  const rows = (list: readonly number[], width: number) =>
    Float64Array.from(kept.flatMap((i) => list.slice(i * width, (i + 1) * width)));
  const features = {
    rise: rows(raw.rise, BAND_EDGES.length),
    energy: rows(raw.energy, 1),
    fresh: rows(raw.fresh, 12),
    chroma: rows(raw.chroma, 12),
  };
  const stretched = (times: readonly Seconds[]) => times.map((time) => by * time);
  const seconds = by * piece.seconds;
  return {
    ...piece,
    seconds,
    beats: stretched(piece.beats),
    other: stretched(piece.other),
    notes: piece.notes.map(([time, pitch]) => [by * time, pitch] as const),
    evidence: evidenceFrom(seconds, onsets, features),
  };
}
