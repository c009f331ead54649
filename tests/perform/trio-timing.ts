import { readFileSync } from 'node:fs';
import type { Seconds } from '../../shared/math/units.ts';

/**
 * When three real players played: hand-annotated onsets of piano, bass and drums and the group's beats,
 * from the Jazz Trio Database (Cheston, Schlichting, Cross and Harrison 2024, TISMIR 7(1),
 * doi 10.5334/tismir.186; MIT, see tests/data/trio-timing/README.md).
 */
export interface TrioTiming {
  readonly piano: readonly Seconds[];
  readonly bass: readonly Seconds[];
  readonly drums: readonly Seconds[];
  readonly beats: readonly Seconds[];
  /** `bar.beat`, from 1. */
  readonly beatLabels: readonly string[];
}

export const trioCount = 28;

/** @param number from 1 to 28 */
export function readTrioTiming(number: number): TrioTiming {
  const file = `../data/trio-timing/trio-${String(number).padStart(2, '0')}.json`;
  return JSON.parse(readFileSync(new URL(file, import.meta.url), 'utf8')) as TrioTiming;
}

/**
 * How far a player was from each beat in turn, in seconds (positive: late), with the mean taken off:
 * real jitter with its real memory from one beat to the next. Beats without an onset within 60 ms are
 * left out.
 */
export function asynchronies(timing: TrioTiming, player: 'piano' | 'bass' | 'drums'): Seconds[] {
  const away: Seconds[] = [];
  let i = 0;
  const onsets = timing[player];
  for (const beat of timing.beats) {
    while (
      i + 1 < onsets.length &&
      Math.abs((onsets[i + 1] ?? 0) - beat) < Math.abs((onsets[i] ?? 0) - beat)
    )
      i++;
    const distance = (onsets[i] ?? 0) - beat;
    if (Math.abs(distance) < 0.06) away.push(distance);
  }
  const mean = away.reduce((sum, x) => sum + x, 0) / Math.max(1, away.length);
  return away.map((x) => x - mean);
}
