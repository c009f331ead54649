import type { Seconds } from '../math/units.ts';

/** Counts 1, 2, 3, 4 from the first beat, and from 1 again at every beat in `ones`. */
export function countBars(beats: readonly Seconds[], ones: readonly Seconds[]): number[] {
  const counts: number[] = [];
  const marked = new Set<number>();
  for (const one of ones) {
    let near = 0;
    for (let i = 1; i < beats.length; i++)
      if (Math.abs(beats[i] - one) < Math.abs(beats[near] - one)) near = i;
    marked.add(near);
  }
  const first = marked.size > 0 ? Math.min(...marked) : 0;
  for (let i = 0; i < beats.length; i++) {
    if (marked.has(i)) counts.push(1);
    else if (i < first) counts.push(((((i - first) % 4) + 4) % 4) + 1);
    else counts.push(i === 0 ? 1 : (counts[i - 1] % 4) + 1);
  }
  return counts;
}
