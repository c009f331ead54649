import { RealFft } from '../../shared/math/fft.ts';
import type { Decibels, Hertz, Seconds } from '../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { Chance } from './chance.ts';

/** What happens between the instrument and the file. */
export interface Place {
  /** Time in which the room's sound falls by 60 dB; 0 for none. */
  readonly room: Seconds;
  /** Share of the room's sound beside the direct one. */
  readonly wet: number;
  /** Speed deviation of a worn tape, as a share (0.002 is audible); 0 for none. */
  readonly wow: number;
  /** Level of noise below full scale; -Infinity for none. */
  readonly hiss: Decibels;
  /** Highest frequency kept, Infinity for all. */
  readonly top: Hertz;
  readonly mono: boolean;
}

export const dry: Place = {
  room: 0,
  wet: 0,
  wow: 0,
  hiss: Number.NEGATIVE_INFINITY,
  top: Number.POSITIVE_INFINITY,
  mono: false,
};

/** Puts a recording into a place; returns it with the moment at which each old moment now sounds. */
export function putInto(
  audio: Audio,
  place: Place,
  seed: number,
): { audio: Audio; moved: (time: Seconds) => Seconds } {
  const chance = new Chance(seed);
  const rate = audio.sampleRate;
  let channels: Float32Array[] = audio.channels.map((channel) => Float32Array.from(channel));
  if (place.room > 0) {
    channels = channels.map((channel) => {
      const wet = convolve(channel, roomResponse(chance, place.room, rate));
      return channel.map((x, i) => x + place.wet * wet[i]);
    });
  }
  let moved = (time: Seconds): Seconds => time;
  if (place.wow > 0) {
    const tape = wow(channels, place.wow, rate, chance);
    channels = tape.channels;
    moved = tape.moved;
  }
  if (place.mono) {
    const mixed = new Float32Array(channels[0]?.length ?? 0);
    for (let i = 0; i < mixed.length; i++) {
      for (const channel of channels) mixed[i] += channel[i] / channels.length;
    }
    channels = [mixed];
  }
  if (Number.isFinite(place.top)) channels = channels.map((c) => lowpass(c, place.top, rate));
  if (Number.isFinite(place.hiss)) {
    // Even noise: as loud as normal noise of this deviation, and much quicker made.
    const level = Math.sqrt(3) * 10 ** (place.hiss / 20);
    for (const channel of channels) {
      for (let i = 0; i < channel.length; i++) {
        channel[i] += chance.between(-level, level);
      }
    }
  }
  return { audio: { sampleRate: rate, channels }, moved };
}

/** Noise that dies away, its treble sooner, after a few early reflections (Moorer 1979). */
function roomResponse(chance: Chance, seconds: Seconds, rate: Hertz): Float32Array {
  const response = new Float32Array(Math.round(seconds * rate));
  let low = 0;
  for (let i = Math.round(0.018 * rate); i < response.length; i++) {
    const t = i / rate;
    const noise = chance.normal(0, 1);
    const keep = Math.min(0.95, 0.3 + (0.6 * t) / seconds);
    low += (1 - keep) * (noise - low);
    response[i] = low * 10 ** ((-3 * t) / seconds) * 0.05;
  }
  for (let k = 0; k < 6; k++) {
    const i = Math.round(chance.between(0.004, 0.03) * rate);
    response[i] += chance.between(0.1, 0.35) * (chance.odds(0.5) ? 1 : -1);
  }
  return response;
}

/** Fast convolution by overlapped blocks, cut to the signal's length. */
export function convolve(signal: Float32Array, response: Float32Array): Float32Array {
  const size = 2 ** Math.ceil(Math.log2(response.length * 2));
  const fft = new RealFft(size);
  const hop = size - response.length;
  const hr = new Float64Array(fft.bins);
  const hi = new Float64Array(fft.bins);
  const block = new Float64Array(size);
  block.set(response);
  fft.forward(block, hr, hi);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const out = new Float32Array(signal.length);
  for (let start = 0; start < signal.length; start += hop) {
    block.fill(0);
    block.set(signal.subarray(start, Math.min(signal.length, start + hop)));
    fft.forward(block, re, im);
    for (let k = 0; k < fft.bins; k++) {
      const a = re[k];
      const b = im[k];
      re[k] = a * hr[k] - b * hi[k];
      im[k] = a * hi[k] + b * hr[k];
    }
    fft.inverse(re, im, block);
    const end = Math.min(signal.length, start + size);
    for (let i = start; i < end; i++) out[i] += block[i - start];
  }
  return out;
}

/** Linear-phase windowed sinc, delay taken off, so that no moment moves. */
function lowpass(signal: Float32Array, top: Hertz, rate: Hertz): Float32Array {
  const half = 127;
  const taps = new Float32Array(2 * half + 1);
  for (let i = 0; i < taps.length; i++) {
    const x = i - half;
    const sinc =
      x === 0 ? (2 * top) / rate : Math.sin((2 * Math.PI * top * x) / rate) / (Math.PI * x);
    taps[i] = sinc * (0.5 + 0.5 * Math.cos((Math.PI * x) / (half + 1)));
  }
  const padded = new Float32Array(signal.length + half);
  padded.set(signal);
  return convolve(padded, taps).slice(half, half + signal.length);
}

const reach = 8;
const taps = 2 * reach;
const phases = 1024;

/** A windowed sinc of 16 samples for each of 1024 places between two samples. */
function sincTable(): Float64Array {
  const table = new Float64Array((phases + 1) * taps);
  for (let p = 0; p <= phases; p++) {
    for (let k = 0; k < taps; k++) {
      const x = p / phases - (k - reach + 1);
      const window = 0.5 + 0.5 * Math.cos((Math.PI * x) / (reach + 1));
      const sinc = Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
      table[p * taps + k] = sinc * window;
    }
  }
  return table;
}

/** Slow and quick wavering of speed. */
function wow(
  channels: readonly Float32Array[],
  depth: number,
  rate: Hertz,
  chance: Chance,
): { channels: Float32Array[]; moved: (time: Seconds) => Seconds } {
  const waves = [0.55, 1.1, 6.3].map((hertz, i) => ({
    hertz: hertz * chance.between(0.9, 1.1),
    phase: chance.between(0, 2 * Math.PI),
    size: depth * (i === 2 ? 0.15 : 0.7),
  }));
  // Where the tape was at an output moment; the waver is small, so it is inverted by iteration.
  const source = (t: Seconds): Seconds => {
    let at = t;
    for (const w of waves) {
      const turn = 2 * Math.PI * w.hertz;
      at += (w.size / turn) * (Math.sin(turn * t + w.phase) - Math.sin(w.phase));
    }
    return at;
  };
  const moved = (time: Seconds): Seconds => {
    let t = time;
    for (let i = 0; i < 20; i++) t += time - source(t);
    return t;
  };
  const kernel = sincTable();
  const bent = channels.map((channel) => {
    const out = new Float32Array(channel.length);
    for (let i = 0; i < out.length; i++) {
      const at = source(i / rate) * rate;
      const whole = Math.floor(at);
      const phase = Math.round((at - whole) * phases) * taps;
      let sum = 0;
      for (let k = 0; k < taps; k++)
        sum += (channel[whole + k - reach + 1] ?? 0) * kernel[phase + k];
      out[i] = sum;
    }
    return out;
  });
  return { channels: bent, moved };
}

export function peakOf(audio: Audio): number {
  let peak = 0;
  for (let i = 0; i < lengthOf(audio); i++) {
    for (const channel of audio.channels) peak = Math.max(peak, Math.abs(channel[i]));
  }
  return peak;
}
