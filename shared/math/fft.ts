import { ComplexFft } from './complex-fft.ts';

/**
 * Fourier transform of real signals of a power-of-two length, by one complex transform of half the
 * length and the usual split into even and odd parts. One object holds its tables and scratch, so it
 * is not shared between threads; spectra are Float64Array, since mixing element types halves the speed.
 */
export class RealFft {
  /** Length of the real signal. */
  readonly size: number;
  /** Number of bins, `size / 2 + 1`. */
  readonly bins: number;
  private readonly half: number;
  private readonly cos: Float64Array;
  private readonly sin: Float64Array;
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  private readonly complex: ComplexFft;

  /** @param size a power of two, 4 or more */
  constructor(size: number) {
    if (size < 4 || (size & (size - 1)) !== 0)
      throw new RangeError(`An FFT of ${size} points is no power of two of 4 or more.`);
    this.size = size;
    this.half = size / 2;
    this.bins = this.half + 1;
    this.cos = new Float64Array(this.bins);
    this.sin = new Float64Array(this.bins);
    for (let k = 0; k < this.bins; k++) {
      this.cos[k] = Math.cos((2 * Math.PI * k) / size);
      this.sin[k] = Math.sin((2 * Math.PI * k) / size);
    }
    this.re = new Float64Array(this.half);
    this.im = new Float64Array(this.half);
    this.complex = new ComplexFft(this.half);
  }

  /** `signal` (`size` samples from `offset`) to `re`, `im` (`bins` each). Nothing is scaled. */
  forward(
    signal: Float64Array | Float32Array,
    re: Float64Array,
    im: Float64Array,
    offset = 0,
  ): void {
    const { half, cos, sin, re: zr, im: zi } = this;
    for (let i = 0, j = offset; i < half; i++, j += 2) {
      zr[i] = signal[j];
      zi[i] = signal[j + 1];
    }
    this.complex.transform(zr, zi);
    re[0] = zr[0] + zi[0];
    im[0] = 0;
    re[half] = zr[0] - zi[0];
    im[half] = 0;
    for (let k = 1, m = half - 1; k < half; k++, m--) {
      const er = (zr[k] + zr[m]) / 2;
      const ei = (zi[k] - zi[m]) / 2;
      const or = (zi[k] + zi[m]) / 2;
      const oi = (zr[m] - zr[k]) / 2;
      const c = cos[k];
      const s = sin[k];
      re[k] = er + or * c + oi * s;
      im[k] = ei + oi * c - or * s;
    }
  }

  /** The inverse of `forward`, scaled so that the pair is the identity. */
  inverse(
    re: Float64Array,
    im: Float64Array,
    signal: Float64Array | Float32Array,
    offset = 0,
  ): void {
    const { half, cos, sin, re: zr, im: zi } = this;
    for (let k = 0, m = half; k < half; k++, m--) {
      const dr = re[k] - re[m];
      const di = im[k] + im[m];
      const c = cos[k];
      const s = sin[k];
      zr[k] = re[k] + re[m] - (dr * s + di * c);
      zi[k] = im[k] - im[m] + (dr * c - di * s);
    }
    this.complex.transform(zi, zr);
    const scale = 1 / this.size;
    for (let i = 0, j = offset; i < half; i++, j += 2) {
      signal[j] = zr[i] * scale;
      signal[j + 1] = zi[i] * scale;
    }
  }
}
