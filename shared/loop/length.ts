import type { Beats, Bpm, Hertz, Samples } from '../math/units.ts';
import type { Lane } from './lane.ts';

/** The lane's length in beats. */
export function beatsOf(lane: Pick<Lane, 'bars' | 'beatsPerBar'>): Beats {
  return lane.bars * lane.beatsPerBar;
}

/** A position in beats of a tempo, in whole samples: the rule for every landing and every length. */
export function beatsToSamples(beats: Beats, bpm: Bpm, sampleRate: Hertz): Samples {
  return Math.round(((beats * 60) / bpm) * sampleRate);
}

/** Exact length of a lane's loop: `round(bars * beatsPerBar * 60 / bpm * sampleRate)` samples. */
export function loopLength(
  lane: Pick<Lane, 'bars' | 'beatsPerBar' | 'bpm'>,
  sampleRate: Hertz,
): Samples {
  return Math.round(((beatsOf(lane) * 60) / lane.bpm) * sampleRate);
}
