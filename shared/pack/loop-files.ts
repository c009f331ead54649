import { type LoudnessInFull, measureLoudnessInFull } from '../hear/loudness/loudness.ts';
import type { Lane } from '../loop/lane.ts';
import { loopLength } from '../loop/length.ts';
import { readAtSpeed } from '../math/resample.ts';
import type { Decibels, Hertz, Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { type WavBits, type WavChunk, writeWav } from '../take/wav-write.ts';
import { toSamples } from '../time/time-map.ts';
import { broadcastChunk } from './broadcast-chunk.ts';
import { id3Chunk } from './id3-chunk.ts';
import type { LoopOrigin } from './loop-names.ts';
import { type PackWishes, titleOf } from './pack-wishes.ts';
import { type CuePoint, cueChunks, infoChunk, samplerChunk } from './wav-chunks.ts';

/** Where an attack stands, from the loop's start. */
interface Attack {
  readonly at: Seconds;
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

/** A part of a rendered lane, as many channels as its recording has. */
export interface LoopPart {
  readonly audio: Audio;
  readonly part: string;
  readonly variant: string | null;
  readonly bits: WavBits;
  /** What all parts of the loop are turned up or down by; see `gainFor`. */
  readonly gain: Decibels;
}

/** A file of a loop: its sound at the rate and with the bits that were wished, measured; its bytes when asked for. */
export interface LoopFile {
  readonly sound: Audio;
  readonly bits: WavBits;
  readonly loudness: LoudnessInFull;
  readonly bytes: () => Uint8Array;
}

/**
 * What brings a loop's mix to the loudness that is wished, for the mix and all its stems; 0 where none is
 * wished, or the loop is silent. A single gain: nothing is limited, and what peaks too high is warned of.
 */
export function gainFor(mix: Audio, wishes: PackWishes): Decibels {
  if (wishes.loudness === undefined) return 0;
  const { integrated } = measureLoudnessInFull(mix);
  return Number.isFinite(integrated) ? wishes.loudness - integrated : 0;
}

function turned(audio: Audio, gain: Decibels): Audio {
  if (gain === 0) return audio;
  const by = 10 ** (gain / 20);
  return { ...audio, channels: audio.channels.map((channel) => channel.map((v) => v * by)) };
}

/** One part of a loop as a WAV file that says what it is: round it goes, its attacks, tempo, key, loudness, maker. */
export function loopFile(
  { audio, part, bits, gain }: LoopPart,
  title: string,
  lane: Lane,
  landings: readonly Attack[],
  origin: LoopOrigin,
  wishes: PackWishes,
): LoopFile {
  const rate = wishes.sampleRate ?? audio.sampleRate;
  const sound = turned(resampleLoop(audio, rate, loopLength(lane, rate)), gain);
  const loudness = measureLoudnessInFull(sound);
  const album = titleOf(wishes, origin.name);
  const { key } = origin.heard;
  const { artist, terms } = wishes;
  const chunks = (): WavChunk[] => [
    broadcastChunk({
      description: `${title}: ${lane.bars} bars of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} bpm, ${part}`,
      originator: artist || 'Unclicked',
      reference: origin.take.hash.slice(0, 32),
      date: origin.changed,
      timeReference: 0,
      loudness,
      history: historyOf(sound, bits, lane, gain),
    }),
    samplerChunk(lengthOf(sound), rate),
    ...cueChunks(landingPoints(lane, landings, sound)),
    infoChunk({
      INAM: title,
      IPRD: album,
      ICRD: origin.changed.slice(0, 10),
      ISFT: 'Unclicked',
      ICMT: `${lane.bpm} bpm, ${lane.bars} bars, ${part}`,
      ...(artist ? { IART: artist } : {}),
      ...(terms ? { ICOP: firstLine(terms) } : {}),
      ...(key.mode === 'unclear' ? {} : { IKEY: `${key.tonic} ${key.mode}` }),
    }),
    id3Chunk({ title, album, bpm: lane.bpm, key, ...(artist ? { artist } : {}) }),
  ];
  return { sound, bits, loudness, bytes: () => writeWav(sound, { bits, chunks: chunks() }) };
}

/** The first line of a text that says something: a field of a sound file holds no more. */
export function firstLine(text: string): string {
  return text.trim().split(/\r?\n/)[0].trim();
}

function historyOf(loop: Audio, bits: WavBits, lane: Lane, gain: Decibels): string[] {
  const moved = gain === 0 ? '' : `; level ${gain.toFixed(2)} dB`;
  const word = bits === '32f' ? 32 : Number(bits);
  const mode =
    loop.channels.length === 1 ? 'mono' : loop.channels.length === 2 ? 'stereo' : 'multi';
  return [
    `A=PCM,F=${loop.sampleRate},W=${word},M=${mode},T=Unclicked; ${lane.source.kind} at ${lane.bpm} bpm${moved}`,
  ];
}
