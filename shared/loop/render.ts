import { withinTake } from '../cut/within-take.ts';
import { InputError } from '../math/input-error.ts';
import type { Progress } from '../math/progress.ts';
import { secondsOf } from '../take/audio.ts';
import type { Lane } from './lane.ts';
import { beatsToSamples, loopLength } from './length.ts';
import type { LaneAudio, LaneMaterial } from './material.ts';
import { renderFlip } from './render-flip.ts';
import { renderStraight } from './render-straight.ts';
import { inspectSeam, type SeamReport } from './seam.ts';

/** A finished loop: one output for each source, all of `loopLength` samples, and what is to be said about it. */
export interface RenderedLane extends LaneAudio {
  readonly seam: SeamReport;
}

/** A loop is kept in memory: longer than this it is no loop. */
const longest = 30 * 60;

/**
 * Renders a lane from parts of one performance. The first source is the one whose seam is reported.
 * Throws InputError where the lane's numbers make no loop.
 */
export function renderLane(material: LaneMaterial, lane: Lane, progress?: Progress): RenderedLane {
  const rate = material.sources[0].sampleRate;
  const length = loopLength(lane, rate);
  if (!(length >= 1) || length > longest * rate)
    throw new InputError(
      `${lane.bars} bars of ${lane.beatsPerBar} beats at ${lane.bpm} bpm make no loop; choose 1 bar or more, at most 30 minutes.`,
    );
  const { source } = lane;
  const slices = withinTake(material.slices, secondsOf(material.sources[0]));
  const inside = { ...material, slices };
  const audio =
    source.kind === 'straight'
      ? renderStraight(inside, lane, source, progress)
      : renderFlip(inside, lane, source.placements, progress);
  const attacks = audio.landings.map((l) => beatsToSamples((l.at * lane.bpm) / 60, lane.bpm, rate));
  return { ...audio, seam: inspectSeam(audio.outputs[0], attacks) };
}
