import { Chance } from '../perform/chance.ts';

export interface PairOfLists {
  readonly truth: readonly number[];
  readonly heard: readonly number[];
}

/** Made-up truths and hearings: beats with jitter, misses, extras, other levels; crowded onsets. */
export function madePairs(): PairOfLists[] {
  const round = (x: number): number => Math.round(x * 1e4) / 1e4;
  return Array.from({ length: 40 }, (_, seed) => {
    const chance = new Chance(seed + 1);
    const crowded = seed % 4 === 3;
    const period = crowded ? 0.05 : chance.between(0.25, 1.1);
    const truth: number[] = [];
    let at = 0;
    for (let i = 0; i < 60; i++) {
      at += period * (crowded ? chance.between(0.2, 3) : chance.between(0.75, 1.3));
      truth.push(round(at));
    }
    const spread = chance.pick([0.004, 0.02, 0.05]);
    const missed = chance.between(0, 0.4);
    const heard = truth
      .filter(() => !chance.odds(missed))
      .map((time) => time + chance.normal(0, spread))
      .concat(truth.filter(() => chance.odds(0.2)).map((time) => time + period / 2));
    const level = seed % 5 === 1 ? heard.filter((_, i) => i % 2 === 0) : heard;
    // Off the truth's grid, so that no distance lies on a window's very edge.
    const clean = [...new Set(level.map((x) => round(Math.max(0, x)) + 0.000037))].sort(
      (a, b) => a - b,
    );
    return { truth, heard: clean };
  });
}

const tonics = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];

/** Pairs of keys as mir_eval writes them, every relation among them. */
export function keyPairs(): [string, string][] {
  const truths = ['C major', 'A minor', 'Eb major', 'F# minor', 'B major'];
  const all = tonics.flatMap((tonic) => [`${tonic} major`, `${tonic} minor`]);
  return truths.flatMap((truth) => all.map((heard): [string, string] => [truth, heard]));
}
