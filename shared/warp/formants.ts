import { RealFft } from '../math/fft.ts';
import { hann } from '../math/window.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { readerOfSum } from './bands/reader.ts';

/** Quefrencies up to this time describe resonances, later ones the notes themselves. */
const smoothness = 0.0015;
/** Most that a formant is raised or lowered, in nepers (30 dB): quiet bins are not blown up. */
const most = 3.45;

/**
 * Gives shifted sound the resonances that it had before: in each frame every bin is multiplied by the
 * source's spectral envelope there over the envelope that was moved there (cepstral smoothing: Oppenheim
 * and Schafer, Discrete-Time Signal Processing, ch. 13). The envelope is that of the sum of all inputs,
 * channels added in power; the gains are real and the same for all.
 *
 * @param shifted the inputs after the shift, as long as before it
 * @param ratio by which every frequency was multiplied
 */
export function keepFormants(
  shifted: readonly Audio[],
  inputs: readonly Audio[],
  ratio: number,
): Audio[] {
  const { sampleRate } = inputs[0];
  const length = lengthOf(inputs[0]);
  const size = 2 ** Math.round(Math.log2(0.046 * sampleRate));
  const hop = size / 4;
  const fft = new RealFft(size);
  const window = hann(size);
  const samples = new Float32Array(size);
  const frame = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const power = new Float64Array(fft.bins);
  const gain = new Float64Array(fft.bins);
  const keep = Math.max(4, Math.round(smoothness * sampleRate));
  const outputs = shifted.map((audio) => ({
    sampleRate,
    channels: audio.channels.map(() => new Float32Array(length)),
  }));
  const sum = readerOfSum(inputs);
  for (let centre = 0; centre < length + size / 2; centre += hop) {
    const first = centre - size / 2;
    power.fill(0);
    for (let c = 0; c < sum.channels; c++) {
      sum.read(c, first, samples);
      for (let i = 0; i < size; i++) frame[i] = samples[i] * window[i];
      fft.forward(frame, re, im);
      for (let k = 0; k < fft.bins; k++) power[k] += re[k] * re[k] + im[k] * im[k];
    }
    envelope(power, fft, frame, re, im, keep);
    for (let k = 0; k < fft.bins; k++) {
      const at = Math.min(fft.bins - 1, k / ratio);
      const low = Math.floor(at);
      const high = Math.min(fft.bins - 1, low + 1);
      const moved = power[low] + (power[high] - power[low]) * (at - low);
      gain[k] = Math.exp(Math.max(-most, Math.min(most, power[k] - moved)));
    }
    shifted.forEach((audio, a) => {
      audio.channels.forEach((channel, c) => {
        for (let i = 0; i < size; i++) frame[i] = (channel[first + i] ?? 0) * window[i];
        fft.forward(frame, re, im);
        for (let k = 0; k < fft.bins; k++) {
          re[k] *= gain[k];
          im[k] *= gain[k];
        }
        fft.inverse(re, im, frame);
        const out = outputs[a].channels[c];
        const end = Math.min(size, length - first);
        for (let i = Math.max(0, -first); i < end; i++)
          out[first + i] += (frame[i] * window[i]) / 1.5;
      });
    });
  }
  return outputs;
}

/** Turns power into the natural logarithm of its smooth envelope, in place. */
function envelope(
  power: Float64Array,
  fft: RealFft,
  frame: Float64Array,
  re: Float64Array,
  im: Float64Array,
  keep: number,
): void {
  let top = 0;
  for (const p of power) if (p > top) top = p;
  const floor = top * 1e-9 + 1e-30;
  for (let k = 0; k < power.length; k++) re[k] = 0.5 * Math.log(power[k] + floor);
  im.fill(0);
  fft.inverse(re, im, frame);
  for (let i = 0; i < frame.length; i++) {
    const q = Math.min(i, frame.length - i);
    frame[i] *= q < keep ? 0.5 + 0.5 * Math.cos((Math.PI * q) / keep) : 0;
  }
  fft.forward(frame, re, im);
  power.set(re);
}
