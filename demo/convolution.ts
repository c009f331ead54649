import { RealFft } from '../shared/math/fft.ts';
import type { Samples } from '../shared/math/units.ts';

const block: Samples = 16384;

interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/**
 * `signal` heard through `responses`: as many channels, as long as the signal. Uniformly
 * partitioned overlap-save (Stockham 1966; Kulp 1988): small transforms stay in the cache.
 */
export function hearThrough(
  signal: Float64Array,
  responses: readonly Float64Array[],
): Float64Array[] {
  const fft = new RealFft(2 * block);
  const window = new Float64Array(2 * block);
  const spectrum = (): Spectrum => ({
    re: new Float64Array(fft.bins),
    im: new Float64Array(fft.bins),
  });
  const parts = responses.map((response) =>
    Array.from({ length: Math.ceil(response.length / block) }, (_, index) => {
      const part = spectrum();
      window.fill(0);
      window.set(response.subarray(index * block, (index + 1) * block));
      fft.forward(window, part.re, part.im);
      return part;
    }),
  );
  const depth = Math.max(...parts.map((own) => own.length));
  const past = Array.from({ length: depth }, spectrum);
  const sum = spectrum();
  const outs = responses.map(() => new Float64Array(signal.length));
  for (let at = 0, turn = 0; at < signal.length; at += block, turn++) {
    window.fill(0);
    const from = at - block;
    window.set(signal.subarray(Math.max(0, from), at + block), Math.max(0, -from));
    const now = past[turn % depth];
    fft.forward(window, now.re, now.im);
    for (const [channel, own] of parts.entries()) {
      sum.re.fill(0);
      sum.im.fill(0);
      for (let k = 0; k < own.length && k <= turn; k++)
        addProduct(past[(turn - k) % depth], own[k], sum);
      fft.inverse(sum.re, sum.im, window);
      const out = outs[channel];
      out.set(window.subarray(block, block + Math.min(block, out.length - at)), at);
    }
  }
  return outs;
}

function addProduct(a: Spectrum, b: Spectrum, into: Spectrum): void {
  const { re, im } = into;
  const { re: ar, im: ai } = a;
  const { re: br, im: bi } = b;
  for (let k = 0; k < re.length; k++) {
    re[k] += ar[k] * br[k] - ai[k] * bi[k];
    im[k] += ar[k] * bi[k] + ai[k] * br[k];
  }
}
