import type { NamedSlice } from '../cut/slice.ts';
import type { Phrase } from '../hear/heard.ts';
import { type HeardNote, hearNote, noteName } from '../hear/pitch/note.ts';
import { resample } from '../math/resample.ts';
import type { Hertz, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { excerpt } from '../take/excerpt.ts';
import { type WavBits, writeWav } from '../take/wav-write.ts';
import { toSamples } from '../time/time-map.ts';
import { broadcastChunk } from './broadcast-chunk.ts';
import { firstLine } from './loop-files.ts';
import { fillTemplate } from './names.ts';
import type { PackInput } from './pack-input.ts';
import type { PackWishes } from './pack-wishes.ts';
import { cueChunks, infoChunk } from './wav-chunks.ts';

/** A slice with its place among the others and the note it plays. */
export interface PackedSlice {
  readonly slice: NamedSlice;
  /** Phrase from 1 (0 before the first), and place in it from 1. */
  readonly line: number;
  readonly place: number;
  readonly pitch: HeardNote | null;
}

/** Fades where the slice states none: too short to be heard, long enough not to click. */
const fadeIn: Seconds = 0.002;
const fadeOut: Seconds = 0.008;

/** Numbers the slices by line and place, and hears the note of each. */
export function numberSlices(
  take: Audio,
  slices: readonly NamedSlice[],
  phrases: readonly Phrase[],
): PackedSlice[] {
  const count = new Map<number, number>();
  return [...slices]
    .sort((a, b) => a.landing - b.landing)
    .map((slice) => {
      const line = phrases.filter((phrase) => phrase.start <= slice.landing + 0.05).length;
      const place = (count.get(line) ?? 0) + 1;
      count.set(line, place);
      const from = toSamples(slice.landing, take.sampleRate);
      const sound = excerpt(take, from, toSamples(slice.end, take.sampleRate));
      return { slice, line, place, pitch: hearNote(sound) };
    });
}

/** The name of a slice's file, without its ending. */
export function sliceName(
  packed: PackedSlice,
  part: string,
  template: string,
  take: string,
): string {
  return fillTemplate(template, {
    take,
    line: String(packed.line).padStart(2, '0'),
    place: String(packed.place).padStart(2, '0'),
    note: packed.pitch ? noteName(packed.pitch.note) : '',
    stem: part,
  });
}

/**
 * A slice of one part: lead-in, attack, tail, faded at its edges and nothing else.
 *
 * @param struck whether it lands on an attack, into which no fade reaches
 */
export function cutOut(audio: Audio, slice: NamedSlice, struck: boolean): Audio {
  const rate = audio.sampleRate;
  const from = toSamples(slice.start, rate);
  const piece = excerpt(audio, from, Math.max(toSamples(slice.end, rate), from + 1));
  const lead = toSamples(slice.landing, rate) - from;
  const length = lengthOf(piece);
  // Never into the attack, whatever was asked.
  const rise = Math.min(toSamples(slice.fadeIn ?? fadeIn, rate), struck ? lead : length);
  const fall = Math.min(toSamples(slice.fadeOut ?? fadeOut, rate), length - lead);
  const channels = piece.channels.map((channel) => {
    const out = channel.slice();
    for (let i = 0; i < rise; i++) out[i] *= Math.sin((Math.PI / 2) * (i / rise)) ** 2;
    for (let i = 0; i < fall; i++)
      out[length - 1 - i] *= Math.sin((Math.PI / 2) * ((i + 0.5) / fall)) ** 2;
    return out;
  });
  return { sampleRate: rate, channels };
}

/** The same sound at another rate, as long to the sample; silence stands around it. */
export function atRate(sound: Audio, sampleRate: Hertz): Audio {
  if (sound.sampleRate === sampleRate) return sound;
  const { sampleRate: from } = sound;
  const channels = sound.channels.map((channel) => resample(channel, from, sampleRate));
  return { sampleRate, channels };
}

/** The whole file of a slice, its landing a cue point, its place on the take's timeline stated. */
export function sliceWav(
  sound: Audio,
  packed: PackedSlice,
  title: string,
  bits: WavBits,
  input: PackInput,
  wishes: PackWishes,
): Uint8Array {
  const { slice, pitch } = packed;
  const rate = sound.sampleRate;
  // Counted in the take, so that at another rate too the landing stands where the attack is.
  const from = input.take.audio.sampleRate;
  const lead = (toSamples(slice.landing, from) - toSamples(slice.start, from)) / from;
  return writeWav(sound, {
    bits,
    chunks: [
      broadcastChunk({
        description: title,
        originator: wishes.artist || 'Unclicked',
        reference: input.take.hash.slice(0, 32),
        date: input.changed,
        timeReference: toSamples(slice.start, rate),
        history: [`A=PCM,F=${rate},T=cut from ${input.take.name}`],
      }),
      ...cueChunks([{ at: toSamples(lead, rate), label: 'landing' }]),
      infoChunk({
        INAM: title,
        IPRD: input.name,
        ICRD: input.changed.slice(0, 10),
        ISFT: 'Unclicked',
        ...(wishes.artist ? { IART: wishes.artist } : {}),
        ...(wishes.terms ? { ICOP: firstLine(wishes.terms) } : {}),
        ...(pitch ? { ICMT: `${noteName(pitch.note)} ${pitch.cents.toFixed(0)} cents` } : {}),
      }),
    ],
  });
}
