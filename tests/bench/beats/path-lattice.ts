import type { Choices } from '../../../shared/hear/beats/inference.ts';
import {
  LONGEST,
  MOST,
  REACH,
  SHORTEST,
  type TempoModel,
} from '../../../shared/hear/beats/path.ts';
import type { Interval } from '../../../shared/hear/beats/rhythm.ts';
import { spanScore } from '../../../shared/hear/beats/span.ts';
import type { Seconds } from '../../../shared/math/units.ts';

/** How near a beat must be to be right. */
const RIGHT: Seconds = 0.04;
/** So much of a take after the last confirmed beat is looked at, and fewer beats are not worth it. */
const WINDOW: Seconds = 10;
const FEWEST = 2;
/** What is so much worse than the best path (or the best right one) is left out; a missed silent beat costs that. */
const WORSE = 12;
const WORSE_RIGHT = 8;
const MISSED = 2;

/** One way to go on. */
interface Step {
  readonly from: number;
  readonly to: number;
  readonly worth: number;
  readonly log: number;
  /** Silent beats that would be put wrong, -1 where the interval as such is wrong. */
  readonly wrong: number;
  readonly interval: Interval;
}

/** All ways from the last confirmed beat to the last beat of a window that are not out of the question. */
export interface Lattice {
  readonly steps: readonly Step[];
  /** Natural log of the last confirmed interval. */
  readonly log: number;
  /** Places of the window's last beat. */
  readonly ends: readonly number[];
}

/** The beat that each place is, -1 for none. */
function beatsAt(places: Float64Array, truth: readonly Seconds[]): number[] {
  return Array.from(places, (time) => {
    let near = -1;
    for (const [b, beat] of truth.entries()) {
      const apart = Math.abs(beat - time);
      if (apart < RIGHT && (near < 0 || apart < Math.abs(truth[near] - time))) near = b;
    }
    return near;
  });
}

/** Builds the lattice for what is known after a fix; null where no path through it is right. */
export function latticeOf(
  { places, span, intervalOf }: Choices,
  tempo: TempoModel,
  truth: readonly Seconds[],
): Lattice | null {
  const { times, must, scores, interval: before } = places;
  if (before === undefined) return null;
  const within = times.filter((time) => time <= times[0] + WINDOW);
  const beatAt = beatsAt(within, truth);
  const last = Math.max(...beatAt);
  if (beatAt[0] < 0 || last - beatAt[0] < FEWEST) return null;
  const ends = beatAt.flatMap((_, i) => (Math.abs(times[i] - truth[last]) < RIGHT ? [i] : []));
  const n = ends[ends.length - 1] + 1;
  const { level, spread, levelWeight, leap } = tempo;
  const worthOf = spanScore(span);
  const steps: Step[] = [];
  for (let to = 1; to < n; to++)
    for (let from = to - 1; from >= 0; from--) {
      const gap = times[to] - times[from];
      if (gap > REACH && from < to - 1) break;
      const silence = times[to] - times[to - 1] + 1e-6;
      for (let parts = 1; parts <= places.held; parts++) {
        const length = gap / parts;
        if (parts > MOST && gap - length > silence) break;
        if (length > LONGEST && parts > 1) continue;
        if (length < SHORTEST) break;
        const own = worthOf(from, to, parts, Number.NEGATIVE_INFINITY);
        if (own === Number.NEGATIVE_INFINITY) continue;
        const z = (Math.log(length) - level) / spread;
        const far = length > LONGEST ? leap : 0;
        const worth = scores[to] + own - levelWeight * z * z * 0.5 * parts - far;
        let wrong = -1;
        if (beatAt[from] >= 0 && beatAt[to] === beatAt[from] + parts) {
          wrong = 0;
          for (let q = 1; q < parts; q++)
            if (Math.abs(times[from] + q * length - truth[beatAt[from] + q]) > RIGHT) wrong++;
        }
        const interval = intervalOf(from, to, parts);
        steps.push({ from, to, worth, log: Math.log(length), wrong, interval });
      }
      if (must[from]) break;
    }
  const whole: Lattice = { steps, log: Math.log(before), ends };
  const free = throughEach(whole, n, tempo, (step) => step.worth);
  const right = throughEach(whole, n, tempo, ({ worth, wrong }) =>
    wrong < 0 ? Number.NEGATIVE_INFINITY : worth - MISSED * wrong,
  );
  const best = Math.max(...free);
  const bestRight = Math.max(...right);
  if (bestRight === Number.NEGATIVE_INFINITY) return null;
  const kept = steps.filter((_, s) => free[s] > best - WORSE || right[s] > bestRight - WORSE_RIGHT);
  return { ...whole, steps: kept };
}

/** Worth of the best path through each step. */
function throughEach(
  { steps, log, ends }: Lattice,
  n: number,
  { freedom, leap }: TempoModel,
  worth: (step: Step) => number,
): number[] {
  const move = (a: number, b: number) => -Math.min(Math.abs(a - b) / freedom, leap);
  const into = Array.from({ length: n }, (): number[] => []);
  const outOf = Array.from({ length: n }, (): number[] => []);
  for (const [s, { from, to }] of steps.entries()) {
    into[to].push(s);
    outOf[from].push(s);
  }
  const before = steps.map(() => Number.NEGATIVE_INFINITY);
  for (let place = 0; place < n; place++)
    for (const s of outOf[place]) {
      let best = place === 0 ? move(log, steps[s].log) : Number.NEGATIVE_INFINITY;
      for (const r of into[place])
        best = Math.max(best, before[r] + move(steps[r].log, steps[s].log));
      before[s] = best + worth(steps[s]);
    }
  const after = steps.map(() => Number.NEGATIVE_INFINITY);
  for (let place = n - 1; place >= 0; place--)
    for (const s of into[place]) {
      let best = ends.includes(place) ? 0 : Number.NEGATIVE_INFINITY;
      for (const r of outOf[place])
        best = Math.max(best, after[r] + worth(steps[r]) + move(steps[s].log, steps[r].log));
      after[s] = best;
    }
  return steps.map((_, s) => before[s] + after[s]);
}
