import type { Seconds } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { halved } from './level.ts';

/** Intervals on either side that a local tempo is the median of. */
const AROUND = 3;
/** Tempi this near (natural log) are of one level. */
const NEAR = 0.35;
/** A stretch at another level has so many beats at least. */
const FEWEST = 12;
/** Another level begins or ends with at least one step of tempo as large (natural log). */
const STEP = 0.45;
/** No two beats are nearer. */
const SHORTEST: Seconds = 0.15;

/** Median interval around each beat but the last, as a natural log. */
function localLevels(times: readonly Seconds[]): number[] {
  const logs = times.slice(1).map((time, i) => Math.log(time - times[i]));
  return logs.map((_, i) => {
    const near = logs.slice(Math.max(0, i - AROUND), i + AROUND + 1).sort((a, b) => a - b);
    return near[near.length >> 1];
  });
}

/** The level at which most of the take is heard, by time. */
function usualLevel(times: readonly Seconds[], levels: readonly number[]): number {
  let usual = 0;
  let most = -1;
  for (const level of levels) {
    let sum = 0;
    for (let i = 0; i < levels.length; i++)
      if (Math.abs(levels[i] - level) < NEAR) sum += times[i + 1] - times[i];
    if (sum > most) {
      most = sum;
      usual = level;
    }
  }
  return usual;
}

/** Whether the tempo leaps near a place rather than getting there little by little. */
function leaps(times: readonly Seconds[], at: number): boolean {
  for (let i = Math.max(1, at - AROUND); i < Math.min(times.length - 1, at + AROUND); i++) {
    const step = Math.log((times[i + 1] - times[i]) / (times[i] - times[i - 1]));
    if (Math.abs(step) > STEP) return true;
  }
  return false;
}

/** Mean size of a move of tempo from beat to beat, as a natural log of the interval. */
function freedomOf(times: readonly Seconds[]): number {
  const logs = times.slice(1).map((time, i) => Math.log(time - times[i]));
  const moves = logs.slice(1).map((log, i) => Math.abs(log - logs[i]));
  return moves.reduce((sum, move) => sum + move, 0) / Math.max(1, moves.length);
}

/**
 * Players count a piece at one level: where a long stretch was heard with twice as many beats as most of
 * the take, and the tempo leaps there or back, every second one stays, all through in the same phase.
 *
 * @returns the beats of one level, the natural log of its usual interval and how freely its tempo moves; null
 * where all are at one level already
 */
export function oneLevel(
  evidence: BeatEvidence,
  times: readonly Seconds[],
): { readonly times: Seconds[]; readonly level: number; readonly freedom: number } | null {
  const levels = localLevels(times);
  const usual = usualLevel(times, levels);
  const octaves = levels.map((level) => Math.round((level - usual) / Math.LN2));
  const even: Seconds[] = [];
  let changed = false;
  for (let from = 0, until = 0; from < levels.length; from = until) {
    while (until < levels.length && octaves[until] === octaves[from]) until++;
    const last = until === levels.length ? 1 : 0;
    const leapt = (from > 0 && leaps(times, from)) || (last === 0 && leaps(times, until));
    if (octaves[from] === -1 && until - from >= FEWEST && leapt) {
      changed = true;
      const stretch = halved(evidence, times.slice(from, until + 1));
      // The beat at the far end belongs to what follows.
      const end = last ? Infinity : times[until] - 0.3 * Math.exp(usual);
      even.push(...stretch.filter((time) => time < end));
    } else even.push(...times.slice(from, until + last));
  }
  if (!changed) return null;
  const apart = even.filter((time, i) => i === 0 || time - even[i - 1] > SHORTEST);
  return { times: apart, level: usual, freedom: freedomOf(apart) };
}
