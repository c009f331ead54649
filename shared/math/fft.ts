/**
 * Fourier transform of real signals of a power-of-two length, by one complex transform of half the
 * length (radix 2, decimation in time; Cooley and Tukey 1965) and the usual split into even and odd
 * parts. One object holds its tables and scratch, so it is not shared between threads; all arrays
 * are Float64Array, since mixing element types halves the speed.
 */
export class RealFft {
  /** Length of the real signal. */
  readonly size: number;
  /** Number of bins, `size / 2 + 1`. */
  readonly bins: number;
  private readonly half: number;
  private readonly cos: Float64Array;
  private readonly sin: Float64Array;
  private readonly reversed: Uint32Array;
  private readonly re: Float64Array;
  private readonly im: Float64Array;

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
    const bits = Math.log2(this.half);
    this.reversed = new Uint32Array(this.half);
    for (let i = 0; i < this.half; i++) {
      let r = 0;
      for (let b = 0; b < bits; b++) if (i & (1 << b)) r |= 1 << (bits - 1 - b);
      this.reversed[i] = r;
    }
    this.re = new Float64Array(this.half);
    this.im = new Float64Array(this.half);
  }

  /** `signal` (`size` samples from `offset`) to `re`, `im` (`bins` each). Nothing is scaled. */
  forward(
    signal: Float64Array | Float32Array,
    re: Float64Array,
    im: Float64Array,
    offset = 0,
  ): void {
    const { half, reversed, cos, sin } = this;
    for (let i = 0; i < half; i++) {
      const r = reversed[i] as number;
      this.re[r] = signal[offset + 2 * i] as number;
      this.im[r] = signal[offset + 2 * i + 1] as number;
    }
    this.butterflies();
    const zr = this.re;
    const zi = this.im;
    re[0] = (zr[0] as number) + (zi[0] as number);
    im[0] = 0;
    re[half] = (zr[0] as number) - (zi[0] as number);
    im[half] = 0;
    for (let k = 1; k < half; k++) {
      const ar = zr[k] as number;
      const ai = zi[k] as number;
      const br = zr[half - k] as number;
      const bi = zi[half - k] as number;
      const er = (ar + br) / 2;
      const ei = (ai - bi) / 2;
      const or = (ai + bi) / 2;
      const oi = (br - ar) / 2;
      const c = cos[k] as number;
      const s = sin[k] as number;
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
    const { half, reversed, cos, sin } = this;
    for (let k = 0; k < half; k++) {
      const ar = re[k] as number;
      const ai = im[k] as number;
      const br = re[half - k] as number;
      const bi = -(im[half - k] as number);
      const er = ar + br;
      const ei = ai + bi;
      const dr = ar - br;
      const di = ai - bi;
      const c = cos[k] as number;
      const s = sin[k] as number;
      const or = dr * c - di * s;
      const oi = dr * s + di * c;
      const r = reversed[k] as number;
      this.re[r] = er - oi;
      this.im[r] = -(ei + or);
    }
    this.butterflies();
    const scale = 1 / this.size;
    for (let i = 0; i < half; i++) {
      signal[offset + 2 * i] = (this.re[i] as number) * scale;
      signal[offset + 2 * i + 1] = -(this.im[i] as number) * scale;
    }
  }

  private butterflies(): void {
    const { half, re, im, cos, sin, size } = this;
    for (let span = 1; span < half; span *= 2) {
      const stride = size / (span * 2);
      for (let start = 0; start < half; start += span * 2) {
        for (let j = 0; j < span; j++) {
          const c = cos[j * stride] as number;
          const s = sin[j * stride] as number;
          const a = start + j;
          const b = a + span;
          const xr = re[b] as number;
          const xi = im[b] as number;
          const tr = xr * c + xi * s;
          const ti = xi * c - xr * s;
          re[b] = (re[a] as number) - tr;
          im[b] = (im[a] as number) - ti;
          re[a] = (re[a] as number) + tr;
          im[a] = (im[a] as number) + ti;
        }
      }
    }
  }
}
