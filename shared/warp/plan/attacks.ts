import { framePowers } from '../../math/frame-powers.ts';
import type { Progress } from '../../math/progress.ts';
import type { Samples } from '../../math/units.ts';
import type { Band } from '../bands/bands.ts';
import type { Reader } from '../bands/reader.ts';
import { firstHeard } from './first-heard.ts';
import { fluxOf } from './flux.ts';
import { fluxPeaks } from './flux-peaks.ts';
import { frameRows } from './frame-rows.ts';
import { risesAcross } from './rises.ts';

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
      const end = Math.min(count, f + together);
      powers.add(end - f, power.subarray(f * width, end * width));
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
 * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
 */
export function findAttacks(frames: Frames, reader: Reader, plain = false): Attack[] {
  const { sampleRate } = reader;
  const { hop } = frames;
  const ms = sampleRate / 1000 / hop;
  const fluxes = fluxOf(frames, Math.max(3, Math.round(35 * ms)), plain);
  if (!fluxes) return [];
  const flux = fluxes.all;
  const rows = plain ? null : frameRows(frames);
  const near = Math.max(2, Math.round(5 * ms));
  let last = Number.NEGATIVE_INFINITY;
  return fluxPeaks(flux, near, Math.round(60 * ms), rows).map(({ frame, threshold }) => {
    const value = flux[frame];
    let begin = frame;
    for (const { within, share } of frame - last > another * ms ? [atOnce, onAndOn] : [atOnce])
      while (
        begin > 0 &&
        frame - begin < Math.round(within * ms) &&
        flux[begin - 1] > value * share
      )
        begin--;
    last = frame;
    return {
      start: Math.max(0, Math.round(begin * hop - ahead * sampleRate)),
      heard: firstHeard(reader, begin * hop, frame * hop, rows),
      strength: value / threshold,
      rise: risesAcross(frames, frame, ms, rows),
      flux: fluxes.bands.map((band) => band[frame]),
    };
  });
}
