import { InputError } from '../math/input-error.ts';
import type { Progress } from '../math/progress.ts';
import type { Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { type TimeMap, unmapTime } from '../time/time-map.ts';
import { findAttacks, shortFrames } from './attacks.ts';
import { BandSplitter, bandsFor, type Pair } from './bands.ts';
import { Newness } from './newness.ts';
import { planWarp, setOff } from './plan.ts';
import { BandVocoder } from './vocoder.ts';

/**
 * Plays `inputs` along a time map: output moment `u` (seconds) is source moment `unmapTime(map, u)`.
 * Around attacks the samples are the recording's own, moved; the time is made up in between.
 *
 * All inputs are parts of one performance (a mix's stems): they share one set of decisions, made on
 * their sum, so the outputs add up to the warp of the sum, and channels keep their phase relations.
 * Where every slope of the map is 1 the output is the input bit for bit, moved by whole samples.
 *
 * @param inputs of one sample rate (8 to 192 kHz), one length and one number of channels (1 to 8)
 * @param length of the result, exact
 * @param progress share of the work done; throws through to cancel
 * @throws InputError where inputs differ in rate, length or channels
 */
export function warp(
  inputs: readonly Audio[],
  map: TimeMap,
  length: Samples,
  progress?: Progress,
): Audio[] {
  return warpEarly(inputs, map, length, setOff, progress);
}

/** As `warp`; `early` says how long before it is heard the moment lies that the map moves, between anchors. */
export function warpEarly(
  inputs: readonly Audio[],
  map: TimeMap,
  length: Samples,
  early: Seconds,
  progress?: Progress,
): Audio[] {
  if (inputs.length === 0) return [];
  const { sampleRate, channels } = inputs[0];
  const inputLength = lengthOf(inputs[0]);
  for (const input of inputs) {
    if (input.sampleRate !== sampleRate)
      throw new InputError(
        `Parts of one performance have ${sampleRate} and ${input.sampleRate} samples a second; bring them to one rate.`,
      );
    if (lengthOf(input) !== inputLength || input.channels.length !== channels.length)
      throw new InputError(
        'Parts of one performance differ in length or in number of channels; export them from one timeline.',
      );
  }
  const outputs = inputs.map((input) => ({
    sampleRate,
    channels: input.channels.map(() => new Float32Array(length)),
  }));
  if (inputLength === 0 || length === 0 || channels.length === 0) return outputs;

  if (isShift(map)) {
    const offset = Math.round(unmapTime(map, 0) * sampleRate);
    inputs.forEach((input, i) => {
      input.channels.forEach((channel, c) => {
        copyShifted(channel, outputs[i].channels[c], offset);
      });
    });
    progress?.(1, 'warping');
    return outputs;
  }

  const lead = channels.map((_, c) => sumOf(inputs.map((input) => input.channels[c])));
  const bands = bandsFor(sampleRate);
  const frames = shortFrames(lead, bands);
  const attacks = findAttacks(frames, lead, sampleRate);
  const splitter = new BandSplitter(bands);
  const sources = inputs.flatMap((input) => pairUp(input.channels, splitter));
  const leads = inputs.length === 1 ? sources : pairUp(lead, splitter);
  const fresh = bands.map(
    (band, b) =>
      new Newness(
        band,
        leads.map((p) => p[b]),
        splitter.padding,
      ),
  );
  const plan = planWarp(attacks, frames, map, length, sampleRate, bands, fresh, early);
  progress?.(0.1, 'warping');

  const pairs = sources.map(() => splitter.empty(length));
  let told = 0.1;
  plan.bands.forEach(({ band, pieces }, b) => {
    const vocoder = new BandVocoder(
      band,
      {
        lead: leads.map((p) => p[b]),
        sources: sources.map((p) => p[b]),
        outputs: pairs.map((p) => p[b]),
        single: inputs.length === 1,
      },
      splitter.padding,
      sampleRate,
      b === 0,
    );
    pieces.forEach((piece, i) => {
      vocoder.render(piece, i === 0, i === pieces.length - 1);
      const share = 0.1 + (0.8 * (b + piece.outEnd / length)) / plan.bands.length;
      if (share < told + 0.005) return;
      told = share;
      progress?.(share, 'warping');
    });
  });
  outputs.forEach((output, i) => {
    for (let p = 0; p < leads.length; p++)
      splitter.join(
        pairs[i * leads.length + p],
        output.channels[2 * p],
        output.channels[2 * p + 1],
      );
  });
  progress?.(1, 'warping');
  return outputs;
}

function pairUp(channels: readonly Float32Array[], splitter: BandSplitter): Pair[][] {
  const pairs: Pair[][] = [];
  for (let c = 0; c < channels.length; c += 2)
    pairs.push(splitter.split(channels[c], channels[c + 1]));
  return pairs;
}

function sumOf(channels: readonly Float32Array[]): Float32Array {
  if (channels.length === 1) return channels[0];
  const sum = new Float32Array(channels[0].length);
  for (let i = 0; i < sum.length; i++) {
    let s = 0;
    for (const channel of channels) s += channel[i];
    sum[i] = s;
  }
  return sum;
}

/** Whether the map only moves: every slope is 1 to within a thousandth of a sample over the take. */
function isShift(map: TimeMap): boolean {
  const first = map.anchors[0];
  return map.anchors.every((a) => Math.abs(a.to - a.from - (first.to - first.from)) < 1e-9);
}

function copyShifted(from: Float32Array, to: Float32Array, offset: Samples): void {
  const start = Math.max(0, -offset);
  const end = Math.min(to.length, from.length - offset);
  if (end > start) to.set(from.subarray(start + offset, end + offset), start);
}
