import { framePowers } from '../math/frame-powers.ts';
import type { Progress } from '../math/progress.ts';
import type { Samples } from '../math/units.ts';
import type { Band } from './bands.ts';
import { fluxOf } from './flux.ts';
import type { Reader } from './reader.ts';

/** How long (s) before its power shows a copied sound begins: half a short window, less where it is soft. */
const ahead = 0.002;
/**
 * How far (ms) before its flux is at its peak an attack may begin, and down to which share of that: most
 * rise at once, but some go on and on, as soft hammers under a louder one do.
 */
const atOnce = { within: 4, share: 0.25 };
const onAndOn = { within: 8, share: 0.6 };
/** What lies so close (ms) after another attack is never moved back far: it may be the other's. */
const another = 20;

/** An attack that the warp keeps as recorded, in samples of the source. */
export interface Attack {
  /** Where the copied sound begins: a little before anything of the attack is heard. */
  readonly start: Samples;
  /** Where its first sample is heard. */
  readonly heard: Samples;
  /** How far it stands out of what goes on around it (flux over its local threshold). */
  readonly strength: number;
  /** By how many decibels each band's power rises across it. */
  readonly rise: readonly number[];
  /** By how much each band passes all that it had in the last moments (mean over third octaves, natural log). */
  readonly flux: readonly number[];
}

/**
 * Power over short frames in bands of about a third of an octave, the raw material of attack finding.
 * Frame `i` is centred on sample `i * hop`.
 */
export interface Frames {
  readonly hop: Samples;
  readonly count: number;
  readonly width: number;
  /** Linear power, `count * width`. */
  readonly power: Float32Array;
  /** First power column of each of the warp's bands, and one past the last. */
  readonly split: readonly number[];
}

/** Frames that are read and taken apart at a time. */
const together = 64;

export function shortFrames(reader: Reader, bands: readonly Band[], progress?: Progress): Frames {
  const scale = bands[2].window / 1024;
  const size = 256 * scale;
  const hop = Math.max(1, 64 * scale);
  const count = Math.floor(reader.length / hop) + 1;
  const edges = [1];
  while (edges[edges.length - 1] < size / 2) {
    const last = edges[edges.length - 1];
    edges.push(Math.min(size / 2, Math.max(last + 1, Math.round(last * 1.26))));
  }
  const width = edges.length - 1;
  const split = [
    0,
    ...bands.map((band) => {
      const k = band.edge * size;
      const i = edges.findIndex((e) => e >= k);
      return i < 0 ? width : Math.min(i, width);
    }),
  ];
  const power = new Float32Array(count * width);
  const powers = framePowers({ size, hop, together, edges });
  for (let c = 0; c < reader.channels; c += 2) {
    for (let f = 0; f < count; f += together) {
      const [left, right] = powers.signals();
      reader.read(c, f * hop - size / 2, left);
      reader.read(c + 1, f * hop - size / 2, right);
      const sums = powers.sums(Math.min(together, count - f));
      const end = Math.min(power.length, (f + together) * width);
      if (c === 0) power.set(sums.subarray(0, end - f * width), f * width);
      else for (let i = f * width, j = 0; i < end; i++, j++) power[i] += sums[j];
      progress?.((c + (2 * f) / count) / (reader.channels + 1), 'warping');
    }
  }
  return { hop, count, width, power, split };
}

/**
 * Finds every attack worth keeping verbatim: peaks of the log-compressed positive flux of short power
 * frames over a local threshold, each moved back to where its rise begins (4 ms at most, or 8 where the
 * flux stays near its peak for so long). Levels count in relation to the loudest frame, so gain moves nothing.
 *
 * @param frames of the sum of all inputs
 */
export function findAttacks(frames: Frames, reader: Reader): Attack[] {
  const { sampleRate } = reader;
  const { hop, count, split } = frames;
  const ms = sampleRate / 1000 / hop;
  const fluxes = fluxOf(frames, Math.max(3, Math.round(35 * ms)));
  if (!fluxes) return [];
  const flux = fluxes.all;
  const around = Math.round(60 * ms);
  const near = Math.max(2, Math.round(5 * ms));
  const attacks: Attack[] = [];
  let last = Number.NEGATIVE_INFINITY;
  for (let f = 1; f < count; f++) {
    const value = flux[f];
    if (value < 0.02) continue;
    let peak = true;
    for (let i = Math.max(0, f - near); i <= Math.min(count - 1, f + near) && peak; i++)
      if (flux[i] > value || (flux[i] === value && i < f)) peak = false;
    if (!peak) continue;
    let sum = 0;
    let n = 0;
    for (let i = Math.max(0, f - around); i <= Math.min(count - 1, f + around); i++) {
      sum += Math.min(flux[i], value / 4);
      n++;
    }
    const threshold = 0.025 + 1.5 * (sum / n);
    if (value < threshold) continue;
    let begin = f;
    for (const { within, share } of f - last > another * ms ? [atOnce, onAndOn] : [atOnce])
      while (begin > 0 && f - begin < Math.round(within * ms) && flux[begin - 1] > value * share)
        begin--;
    last = f;
    const seen = begin * hop;
    const first = firstHeard(reader, seen, f * hop);
    const start = Math.max(0, Math.round(begin * hop - ahead * sampleRate));
    attacks.push({
      start,
      heard: first,
      strength: value / threshold,
      rise: rises(frames, split, f, ms),
      flux: fluxes.bands.map((band) => band[f]),
    });
  }
  return attacks;
}

/**
 * The first sample of a sound on the waveform, around the frames where its power showed: where a running
 * mean over half a millisecond passes both four times what was there before and a hundredth of what
 * comes. Where it doesn't (soft sounds under loud ones), where power showed.
 */
function firstHeard(reader: Reader, seen: Samples, peak: Samples): Samples {
  const ms = reader.sampleRate / 1000;
  const width = Math.max(2, Math.round(0.5 * ms));
  const from = Math.round(seen - 3 * ms);
  const to = Math.round(peak + 5 * ms);
  const first = Math.round(from - 8 * ms) - width;
  const power = new Float64Array(to + 2 * width - first);
  const channel = new Float64Array(power.length);
  for (let c = 0; c < reader.channels; c++) {
    reader.read(c, first, channel);
    for (let i = 0; i < power.length; i++) power[i] += channel[i] * channel[i];
  }
  const level = (at: number): number => {
    let sum = 0;
    for (let i = at - first, end = i + width; i < end; i++) sum += power[i];
    return sum;
  };
  let before = 0;
  for (let at = Math.round(from - 8 * ms); at < from; at += width)
    before = Math.max(before, level(at));
  let most = 0;
  for (let at = from; at < to; at += width) most = Math.max(most, level(at));
  const threshold = Math.max(4 * before, most / 100);
  if (most <= threshold) return seen;
  let at = from;
  while (at < to && level(at) < threshold) at += width;
  // To the sample within the step that passed.
  for (let i = 0; i < width && level(at - 1) >= threshold; i++) at--;
  return at + width - 1;
}

/** Power after over power before in each of the warp's bands, in decibels. */
function rises(frames: Frames, split: readonly number[], at: number, ms: number): number[] {
  const { count, width, power } = frames;
  const mean = (from: number, to: number, b: number): number => {
    let sum = 0;
    let n = 0;
    for (let f = Math.max(0, from); f <= Math.min(count - 1, to); f++) {
      for (let k = split[b]; k < split[b + 1]; k++) sum += power[f * width + k];
      n++;
    }
    return n > 0 ? sum / n : 0;
  };
  return split.slice(1).map((_, b) => {
    const before = mean(at - Math.round(16 * ms), at - Math.round(5 * ms), b);
    const after = mean(at, at + Math.round(8 * ms), b);
    if (after <= 0) return 0;
    return before <= 0 ? 100 : Math.min(100, 10 * Math.log10(after / before));
  });
}
