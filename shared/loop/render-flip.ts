import { landsOnAttack } from '../cut/on-attack.ts';
import type { Progress } from '../math/progress.ts';
import type { Hertz, Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { glimpse } from '../take/excerpt.ts';
import { nearestGridPoint } from '../time/grid.ts';
import { mapTime, onSamples, toSamples } from '../time/time-map.ts';
import { Workspace } from '../warp/bands/workspace.ts';
import { shiftPitch } from '../warp/pitch.ts';
import { warp } from '../warp/warp.ts';
import type { Lane, Placement } from './lane.ts';
import { beatsOf, beatsToSamples, loopLength } from './length.ts';
import {
  clockOf,
  type LaneAudio,
  type LaneLanding,
  type LaneMaterial,
  type LaneRatio,
} from './material.ts';
import { placementMap } from './placement-map.ts';
import { addRound, emptyLoops, fade } from './ring.ts';
import { soundingOf, untilNext } from './sounding.ts';

const margin: Seconds = 0.25;
const attackFade: Seconds = 0.005;
const cutFade: Seconds = 0.008;
const endFade: Seconds = 0.02;

/** Samples a placement sounds before its landing. */
function leadOf(start: Seconds, landing: Seconds, rate: Hertz): Samples {
  return toSamples(landing, rate) - toSamples(start, rate);
}

function reverse(audio: Audio): Audio {
  return { ...audio, channels: audio.channels.map((channel) => channel.slice().reverse()) };
}

function amplify(audio: Audio, gain: number): void {
  if (gain !== 1)
    for (const channel of audio.channels)
      for (let i = 0; i < channel.length; i++) channel[i] *= gain;
}

/**
 * Slices in a new order. Each landing stands on its place to the sample, what leads into it in front of
 * it; its sound ends where the slice does, where the placement says, or where the next attack comes in.
 * A slice that plays backwards begins at its place. Placements of unknown slices are passed over.
 */
export function renderFlip(
  material: LaneMaterial,
  lane: Lane,
  placements: readonly Placement[],
  progress?: Progress,
): LaneAudio {
  const rate = material.sources[0].sampleRate;
  const clock = clockOf(material.beats);
  const slices = new Map(material.slices.map((slice) => [slice.id, slice]));
  const outputs = emptyLoops(material.sources, loopLength(lane, rate));
  const landings: LaneLanding[] = [];
  const ratios: LaneRatio[] = [];
  const beats = beatsOf(lane);
  const beat = 60 / lane.bpm;
  const sounding = soundingOf(placements, lane, slices);

  const workspace = new Workspace();
  sounding.forEach((placement, index) => {
    progress?.(index / sounding.length, 'placing slices');
    const slice = slices.get(placement.slice);
    if (!slice) return;
    const map = placementMap(placement, slice, lane, clock, material.onsets);
    const ends = mapTime(map, slice.end - slice.landing);
    const offset = toSamples(slice.start - margin, rate);
    const landing = toSamples(slice.landing, rate) - offset;
    const lead = leadOf(slice.start, slice.landing, rate);
    const origin = landing / rate;
    const pieces = material.sources.map((audio) =>
      glimpse(audio, offset, toSamples(slice.end + margin, rate)),
    );
    const last = landing + toSamples(ends, rate);
    const shifted = onSamples(
      { anchors: map.anchors.map((a) => ({ from: a.from + origin, to: a.to + origin })) },
      rate,
    );
    const warped = warp(pieces, shifted, last, undefined, workspace);
    const { semitones, cents, formants = 'moved' } = placement;
    const pitched =
      semitones === 0 && cents === 0 ? warped : shiftPitch(warped, { semitones, cents, formants });

    const gap =
      beatsToSamples(placement.at + untilNext(placement, sounding, beats), lane.bpm, rate) -
      beatsToSamples(placement.at, lane.bpm, rate);
    const wish =
      placement.length === null
        ? Number.POSITIVE_INFINITY
        : toSamples(placement.length * beat, rate);
    const cut = Math.min(placement.rings === 'next' ? gap : Number.POSITIVE_INFINITY, wish);
    const gain = 10 ** (placement.level / 20);
    const at = beatsToSamples(placement.at, lane.bpm, rate);
    const backwards = placement.direction === 'backwards';
    const struck = !backwards && landsOnAttack(slice, material.onsets);
    pitched.forEach((audio, i) => {
      const whole = glimpse(audio, landing - lead, last);
      const turned = backwards ? reverse(whole) : whole;
      const keep = Math.min(lengthOf(turned), cut + (backwards ? 0 : lead));
      const piece = glimpse(turned, 0, keep);
      const died = keep === lengthOf(turned);
      const fadeIn = slice.fadeIn ?? (struck ? Math.min(lead / rate, attackFade) : attackFade);
      const fadeOut = slice.fadeOut ?? (died ? endFade : cutFade);
      fade(piece, toSamples(fadeIn, rate), toSamples(fadeOut, rate));
      amplify(piece, gain);
      addRound(outputs[i], piece, backwards ? at : at - lead);
    });

    for (const { channels } of warped) workspace.leave(...channels);

    const here = placement.at * beat;
    landings.push({
      placement: placement.id,
      source: slice.landing,
      at: at / rate,
      grid: nearestGridPoint(placement.at, lane.grid, lane.swing) * beat,
    });
    map.anchors.slice(1).forEach((b, i) => {
      const a = map.anchors[i];
      ratios.push({
        from: slice.landing + a.from,
        until: slice.landing + b.from,
        ratio: (b.to - a.to) / (b.from - a.from),
      });
    });
    for (const { time } of material.onsets) {
      if (time <= slice.landing + 0.03 || time >= slice.end || backwards) continue;
      const inner = mapTime(map, time - slice.landing);
      if (inner * rate >= cut) continue;
      landings.push({
        placement: placement.id,
        source: time,
        at: here + inner,
        grid: nearestGridPoint((here + inner) / beat, lane.grid, lane.swing) * beat,
      });
    }
  });
  return { outputs, landings, ratios };
}
