import type { LoudnessInFull } from '../hear/loudness.ts';
import type { Lane } from '../loop/lane.ts';
import type { LaneLanding } from '../loop/material.ts';
import { readAtSpeed } from '../math/resample.ts';
import type { Hertz, Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import type { WavChunk } from '../take/wav-write.ts';
import { toSamples } from '../time/time-map.ts';
import { broadcastChunk } from './broadcast-chunk.ts';
import { id3Chunk } from './id3-chunk.ts';
import type { PackInput, PackWishes } from './pack-input.ts';
import { type CuePoint, cueChunks, infoChunk, samplerChunk } from './wav-chunks.ts';

/** Where an attack stands, from the loop's start. */
interface Attack {
  readonly at: Seconds;
}

/** What is written beside the sound of one file of a loop. */
export interface LoopFileFacts {
  readonly title: string;
  readonly part: string;
  readonly lane: Lane;
  readonly landings: readonly LaneLanding[];
  readonly loudness: LoudnessInFull;
  readonly history: readonly string[];
}

/**
 * A loop at another rate, `length` frames long: read round its seam, so that it still closes. The tempo
 * is off by less than a sample in the whole loop.
 */
export function resampleLoop(loop: Audio, sampleRate: Hertz, length: Samples): Audio {
  if (loop.sampleRate === sampleRate) return loop;
  const from = lengthOf(loop);
  const step = from / length;
  // The kernel reaches about 52 samples of the slower of the two rates to each side.
  const around = Math.ceil(64 * Math.max(step, 1));
  const channels = loop.channels.map((channel) => {
    const round = new Float32Array(from + 2 * around);
    for (let i = 0; i < round.length; i++)
      round[i] = channel[(((i - around) % from) + from) % from];
    return readAtSpeed(round, around, step, length);
  });
  return { sampleRate, channels };
}

/** Attacks as cue points, in the loop; those that lead in before its start stand at its end. */
function landingPoints(lane: Lane, landings: readonly Attack[], loop: Audio): CuePoint[] {
  const length = lengthOf(loop);
  const { beatsPerBar, bpm } = lane;
  return landings
    .map((landing) => {
      const at = ((toSamples(landing.at, loop.sampleRate) % length) + length) % length;
      const beat = Math.floor((landing.at * bpm) / 60 + 0.05);
      const inBar = ((beat % beatsPerBar) + beatsPerBar) % beatsPerBar;
      return { at, label: `landing ${Math.floor(beat / beatsPerBar) + 1}.${inBar + 1}` };
    })
    .sort((a, b) => a.at - b.at);
}

/** Chunks of a loop that is saved on its own, without a pack around it: round it goes, its attacks, its tempo. */
export function savedLoopChunks(
  loop: Audio,
  lane: Lane,
  landings: readonly Attack[],
  title: string,
  album: string,
): WavChunk[] {
  return [
    samplerChunk(lengthOf(loop), loop.sampleRate),
    ...cueChunks(landingPoints(lane, landings, loop)),
    infoChunk({
      INAM: title,
      IPRD: album,
      ISFT: 'Unclicked',
      ICMT: `${lane.bpm} bpm, ${lane.bars} bars`,
    }),
    id3Chunk({ title, album, bpm: lane.bpm }),
  ];
}

/** Every chunk of a loop's file. */
export function loopChunks(
  loop: Audio,
  facts: LoopFileFacts,
  input: PackInput,
  wishes: PackWishes,
): WavChunk[] {
  const { title, lane, part, loudness } = facts;
  const { key } = input.heard;
  return [
    broadcastChunk({
      description: `${title}: ${lane.bars} bars of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} bpm, ${part}`,
      originator: wishes.artist ?? 'Unclicked',
      reference: input.take.hash.slice(0, 32),
      date: input.changed,
      timeReference: 0,
      loudness,
      history: facts.history,
    }),
    samplerChunk(lengthOf(loop), loop.sampleRate),
    ...cueChunks(landingPoints(lane, facts.landings, loop)),
    infoChunk({
      INAM: title,
      IPRD: input.name,
      ICRD: input.changed.slice(0, 10),
      ISFT: 'Unclicked',
      ICMT: `${lane.bpm} bpm, ${lane.bars} bars, ${part}`,
      ...(wishes.artist ? { IART: wishes.artist } : {}),
      ...(wishes.terms ? { ICOP: wishes.terms.split(/\r?\n/)[0] } : {}),
      ...(key.mode === 'unclear' ? {} : { IKEY: `${key.tonic} ${key.mode}` }),
    }),
    id3Chunk({
      title,
      album: input.name,
      bpm: lane.bpm,
      key,
      ...(wishes.artist ? { artist: wishes.artist } : {}),
    }),
  ];
}
