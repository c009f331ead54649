import { type Accessor, createSignal } from 'solid-js';
import { beatsOf } from '../../shared/loop/length.ts';
import { median } from '../../shared/math/median.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { Buffers } from './buffers.ts';
import type { Graph } from './engine.ts';
import { renderCountIn } from './plain-beat.ts';
import type { LatencyTest } from './sound.ts';
import { makeVoice } from './voice.ts';

/** Taps wanted before a latency is believed, and how far from a click a tap may be to count. */
export const tapsWanted = 8;
const reach: Seconds = 0.28;

/**
 * How late taps come after clicks: the median, so that a slip does no harm; null before there are
 * enough, or where they scatter so much that they say nothing.
 */
export function latencyOf(clicks: readonly Seconds[], taps: readonly Seconds[]): Seconds | null {
  const late = taps.flatMap((tap) => {
    let nearest = Number.POSITIVE_INFINITY;
    for (const click of clicks)
      if (Math.abs(tap - click) < Math.abs(nearest)) nearest = tap - click;
    return Math.abs(nearest) <= reach ? [nearest] : [];
  });
  if (late.length < tapsWanted) return null;
  const middle = median(late);
  const scatter = median(late.map((one) => Math.abs(one - middle)));
  return scatter < 0.05 ? middle : null;
}

/** The clicks of a test: so many beats, so far apart. */
const lane = { bars: 16, beatsPerBar: 4, bpm: 100 };
const beat: Seconds = 60 / lane.bpm;

/** A test with clicks that are heard and taps on them. */
export interface LatencyTesting {
  readonly state: Accessor<LatencyTest | null>;
  /** @param ended told when the clicks are over */
  readonly begin: (graph: Graph, ended: () => void) => void;
  /** Takes a tap, in the context's time as it was heard; returns the latency once it is known. */
  readonly tap: (at: Seconds) => Seconds | null;
  readonly end: () => void;
}

export function createLatencyTest(buffers: Buffers): LatencyTesting {
  const [state, setState] = createSignal<LatencyTest | null>(null);
  let test: { clicks: Seconds[]; taps: Seconds[]; stop: () => void } | null = null;

  return {
    state,
    begin: (graph, ended) => {
      const clicks = renderCountIn(lane, lane.bars, graph.native.sampleRate);
      const buffer = buffers.of(clicks);
      const at = graph.native.currentTime + 0.5;
      const voice = makeVoice(graph, { buffer, destination: graph.out, at });
      const mine = {
        clicks: Array.from({ length: beatsOf(lane) }, (_, i) => at + i * beat),
        taps: [],
        stop: () => voice.stop(0.005),
      };
      test = mine;
      voice.onEnd(() => {
        if (test === mine) ended();
      });
      setState({ taps: 0, wanted: tapsWanted, latency: null });
    },
    tap: (at) => {
      if (!test) return null;
      test.taps.push(at);
      const latency = latencyOf(test.clicks, test.taps);
      setState({ taps: test.taps.length, wanted: tapsWanted, latency });
      return latency;
    },
    end: () => {
      test?.stop();
      test = null;
    },
  };
}
