import { InputError } from '../math/input-error.ts';
import type { Samples, Seconds } from '../math/units.ts';

/** A moment of the source and where it stands in the result. */
export interface Anchor {
  readonly from: Seconds;
  readonly to: Seconds;
}

/**
 * A piecewise linear, strictly rising map from one time to another. Before the first and after the
 * last anchor the slope is 1. No anchors: the identity.
 */
export interface TimeMap {
  readonly anchors: readonly Anchor[];
}

/** Checks and freezes anchors into a map. Throws InputError where they don't rise on both sides. */
export function makeTimeMap(anchors: readonly Anchor[]): TimeMap {
  anchors.forEach((anchor, i) => {
    if (!Number.isFinite(anchor.from) || !Number.isFinite(anchor.to))
      throw new InputError(
        `Anchor ${i} of the map is not a pair of numbers; give "from" and "to" in seconds.`,
      );
    const before = anchors[i - 1];
    if (before && (anchor.from <= before.from || anchor.to <= before.to))
      throw new InputError(
        `The map goes backwards at anchor ${i} (${before.from} to ${before.to}, then ${anchor.from} to ${anchor.to}); let both sides rise from anchor to anchor.`,
      );
  });
  return { anchors: anchors.map(({ from, to }) => ({ from, to })) };
}

/** Index of the last anchor at or before `t` on one side, -1 when there is none. */
function anchorBefore(anchors: readonly Anchor[], side: 'from' | 'to', t: number): number {
  let low = 0;
  let high = anchors.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((anchors[middle] as Anchor)[side] <= t) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

function follow(map: TimeMap, t: number, side: 'from' | 'to', other: 'from' | 'to'): number {
  const { anchors } = map;
  if (anchors.length === 0) return t;
  const i = anchorBefore(anchors, side, t);
  const a = anchors[Math.max(i, 0)] as Anchor;
  const b = anchors[i + 1];
  if (i < 0 || !b || t === a[side]) return a[other] + (t - a[side]);
  return a[other] + ((t - a[side]) * (b[other] - a[other])) / (b[side] - a[side]);
}

/** Where a moment of the source stands in the result. Monotone; exact at anchors. */
export function mapTime(map: TimeMap, from: Seconds): Seconds {
  return follow(map, from, 'from', 'to');
}

/** Which moment of the source stands at a moment of the result: the inverse of `mapTime`. */
export function unmapTime(map: TimeMap, to: Seconds): Seconds {
  return follow(map, to, 'to', 'from');
}

/** The same map read backwards. */
export function invertMap(map: TimeMap): TimeMap {
  return { anchors: map.anchors.map(({ from, to }) => ({ from: to, to: from })) };
}

/** First `inner`, then `outer`: one map with the anchors of both. */
export function composeMaps(outer: TimeMap, inner: TimeMap): TimeMap {
  const moments = [
    ...inner.anchors.map((a) => ({ from: a.from, to: mapTime(outer, a.to) })),
    ...outer.anchors.map((a) => ({ from: unmapTime(inner, a.from), to: a.to })),
  ].sort((a, b) => a.from - b.from || a.to - b.to);
  const anchors: Anchor[] = [];
  for (const moment of moments) {
    const last = anchors[anchors.length - 1];
    if (!last || (moment.from > last.from && moment.to > last.to)) anchors.push(moment);
  }
  return { anchors };
}

/** Seconds to whole samples, by the rule that every length and landing in the project uses. */
export function toSamples(time: Seconds, sampleRate: number): Samples {
  return Math.round(time * sampleRate);
}

/**
 * The same map with every anchor on whole samples, its source side counted from `offset`: an attack at an
 * anchor is then copied and not interpolated. Anchors that fall together are dropped.
 */
export function onSamples(map: TimeMap, sampleRate: number, offset: Samples = 0): TimeMap {
  const anchors: Anchor[] = [];
  for (const anchor of map.anchors) {
    const from = (toSamples(anchor.from, sampleRate) - offset) / sampleRate;
    const to = toSamples(anchor.to, sampleRate) / sampleRate;
    const last = anchors[anchors.length - 1];
    if (!last || (from > last.from && to > last.to)) anchors.push({ from, to });
  }
  return { anchors };
}
