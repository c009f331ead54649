import { InputError } from '../math/input-error.ts';
import type { Progress } from '../math/progress.ts';
import type { Seconds } from '../math/units.ts';
import { lengthOf, secondsOf } from '../take/audio.ts';
import { glimpse } from '../take/excerpt.ts';
import { beatAt, timeOfBeat } from '../time/beat-clock.ts';
import { steadyMap } from '../time/steady.ts';
import { mapTime, onSamples, toSamples } from '../time/time-map.ts';
import { warpBlocks } from '../warp/warp.ts';
import type { Lane } from './lane.ts';
import { beatsOf, loopLength } from './length.ts';
import { clockOf, type LaneAudio, type LaneMaterial } from './material.ts';
import { addRound, emptyLoops, fadePart } from './ring.ts';

/** Longest ring of the last sound that is carried round the seam. */
const longestTail: Seconds = 4;
/** Sound taken along on both sides so that the warp knows what it cuts into. */
const margin: Seconds = 0.5;
const cutFade: Seconds = 0.008;
/** Two moments this close are one attack. */
const near: Seconds = 0.06;

/**
 * A stretch of the take in its own order, from beat to beat, as one warp. What leads into the first
 * landing sounds before the loop's end; what rings on after the last beat, up to the next attack, sounds
 * over the loop's start. A stretch shorter than the lane leaves silence, a longer one is cut at the bar.
 * Throws InputError where no beats are known, and where the stretch begins after the take's end.
 */
export function renderStraight(
  material: LaneMaterial,
  lane: Lane,
  source: { readonly from: Seconds; readonly until: Seconds },
  progress?: Progress,
): LaneAudio {
  const clock = clockOf(material.beats);
  if (!clock)
    throw new InputError('A straight loop needs beats and none are known; tap along or set two.');
  const rate = material.sources[0].sampleRate;
  const takeSeconds = secondsOf(material.sources[0]);
  const beats = beatsOf(lane);
  const fromBeat = Math.round(beatAt(clock, source.from));
  const untilBeat = Math.min(
    Math.max(Math.round(beatAt(clock, source.until)), fromBeat + 1),
    fromBeat + beats,
  );
  const from = timeOfBeat(clock, fromBeat);
  if (from >= takeSeconds)
    throw new InputError(
      `The straight loop "${lane.name}" begins at ${from.toFixed(2)} s, and the take ends at ${takeSeconds.toFixed(2)} s; choose a stretch inside the take.`,
    );
  const until = timeOfBeat(clock, untilBeat);

  const first = material.slices.find((slice) => Math.abs(slice.landing - from) < near);
  const leadIn = Math.min(from - (first?.start ?? from - 0.001), from, 60 / lane.bpm);
  const next = material.onsets.find((onset) => onset.time > until - near / 2);
  const cutBy = material.slices.find((slice) => next && Math.abs(slice.landing - next.time) < near);
  // What leads into the next attack is left out, but no more of it than leads into the first one.
  const cut = cutBy ? Math.max(cutBy.start, until - leadIn) : takeSeconds;
  const sounding = Math.min(
    cut,
    next ? next.time - 0.001 : takeSeconds,
    until + longestTail,
    takeSeconds,
  );

  const offset = toSamples(from - leadIn - margin, rate);
  const end = Math.min(toSamples(sounding + margin, rate), toSamples(takeSeconds, rate));
  const pieces = material.sources.map((audio) => glimpse(audio, offset, end));
  // On whole samples, so that positions counted from the landing round as positions from zero do.
  const landing = toSamples(leadIn + margin, rate);
  const stretch = { clock, fromBeat, untilBeat, lead: landing / rate };
  const { map, landings } = steadyMap(stretch, material.onsets, lane);
  const shifted = onSamples(map, rate, offset);
  const start = landing - toSamples(leadIn, rate);
  const length = loopLength(lane, rate);
  const last = Math.min(
    toSamples(mapTime(map, sounding), rate),
    landing + length + toSamples(longestTail, rate),
    landing + 2 * length,
  );
  const rise = Math.min(landing - start, toSamples(0.005, rate));
  const outputs = emptyLoops(material.sources, length);
  let done = 0;
  for (const block of warpBlocks(pieces, shifted, last, 'set off', progress)) {
    const count = lengthOf(block[0]);
    const skipped = Math.min(count, Math.max(0, start - done));
    block.forEach((piece, i) => {
      const body = glimpse(piece, skipped, count);
      fadePart(body, done + skipped - start, last - start, rise, toSamples(cutFade, rate));
      addRound(outputs[i], body, done + skipped - landing);
    });
    done += count;
  }
  const home = (time: Seconds) => time - landing / rate;
  return {
    outputs,
    landings: landings.map((l) => ({
      placement: null,
      source: l.from,
      at: home(l.to),
      grid: home(l.grid),
    })),
    ratios: map.anchors.slice(1).map((b, i) => {
      const a = map.anchors[i];
      return { from: a.from, until: b.from, ratio: (b.to - a.to) / (b.from - a.from) };
    }),
  };
}
