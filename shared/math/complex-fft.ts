import { KernelFft } from './kernel-fft.ts';

const tables = new Map<number, { cos: Float64Array; sin: Float64Array }>();

/** Cosines and sines of a whole turn in `size` steps, made once for each size. */
function tableFor(size: number): { cos: Float64Array; sin: Float64Array } {
  let table = tables.get(size);
  if (!table) {
    const cos = new Float64Array(size);
    const sin = new Float64Array(size);
    for (let k = 0; k < size; k++) {
      cos[k] = Math.cos((2 * Math.PI * k) / size);
      sin[k] = Math.sin((2 * Math.PI * k) / size);
    }
    table = { cos, sin };
    tables.set(size, table);
  }
  return table;
}

/**
 * Fourier transform of complex signals of a power-of-two length, in place: Stockham's self-sorting
 * form in radix 4 (one radix-2 pass where the length is no power of 4), so that no pass jumps about
 * in memory. C. Van Loan, Computational Frameworks for the Fast Fourier Transform (SIAM 1992), 1.7.
 *
 * Real and imaginary parts lie in two Float64Arrays: mixing element types halves the speed. An object
 * holds tables and scratch: it can't be shared between threads. Where there is WebAssembly SIMD it does
 * the same sums two at a time, with the same result to the last bit.
 */
export class ComplexFft {
  /** Number of points. */
  readonly size: number;
  /** These four are the plain form's. */
  private readonly cos: Float64Array;
  private readonly sin: Float64Array;
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  /** What does the work where there is WebAssembly SIMD. */
  readonly kernel: KernelFft | null;

  /**
   * @param size a power of two, 1 or more
   * @param plain for the plain form, whatever the machine has
   */
  constructor(size: number, plain = false) {
    if (size < 1 || (size & (size - 1)) !== 0)
      throw new RangeError(`An FFT of ${size} points is no power of two.`);
    this.size = size;
    this.kernel = plain || size < 16 ? null : KernelFft.of(size);
    const own = this.kernel ? 0 : size;
    const { cos, sin } = tableFor(own);
    this.cos = cos;
    this.sin = sin;
    this.re = new Float64Array(own);
    this.im = new Float64Array(own);
  }

  /**
   * Transforms `re`, `im` (`size` each) in place, kernel exp(-2 pi i n k / size), nothing scaled.
   * With the two arrays handed over in exchanged order it is the inverse times `size`.
   */
  transform(re: Float64Array, im: Float64Array): void {
    const { size, kernel } = this;
    if (kernel) {
      kernel.transform(re, im);
      return;
    }
    let fromRe = re;
    let fromIm = im;
    let toRe = this.re;
    let toIm = this.im;
    let stride = 1;
    for (let n = size; n > 4; n /= 4) {
      if (stride === 1) this.firstPass(fromRe, fromIm, toRe, toIm);
      else this.pass(n, stride, fromRe, fromIm, toRe, toIm);
      stride *= 4;
      const r = fromRe;
      const i = fromIm;
      fromRe = toRe;
      fromIm = toIm;
      toRe = r;
      toIm = i;
    }
    // The last pass reads and writes the same four (two) places, so it may end where the caller looks.
    if (stride * 4 === size) lastFour(stride, fromRe, fromIm, re, im);
    else if (stride * 2 === size) lastTwo(stride, fromRe, fromIm, re, im);
  }

  /** The same as `pass` at stride 1, where the inner loop would run once only. */
  private firstPass(xr: Float64Array, xi: Float64Array, yr: Float64Array, yi: Float64Array): void {
    const { cos, sin, size } = this;
    const quarter = size >> 2;
    for (let a = 0, to = 0; a < quarter; a++, to += 4) {
      const b = a + quarter;
      const c = b + quarter;
      const d = c + quarter;
      const pr = xr[a] + xr[c];
      const pi = xi[a] + xi[c];
      const mr = xr[a] - xr[c];
      const mi = xi[a] - xi[c];
      const qr = xr[b] + xr[d];
      const qi = xi[b] + xi[d];
      const jr = xi[d] - xi[b];
      const ji = xr[b] - xr[d];
      yr[to] = pr + qr;
      yi[to] = pi + qi;
      const u1 = mr - jr;
      const v1 = mi - ji;
      const c1 = cos[a];
      const s1 = sin[a];
      yr[to + 1] = u1 * c1 + v1 * s1;
      yi[to + 1] = v1 * c1 - u1 * s1;
      const u2 = pr - qr;
      const v2 = pi - qi;
      const c2 = cos[2 * a];
      const s2 = sin[2 * a];
      yr[to + 2] = u2 * c2 + v2 * s2;
      yi[to + 2] = v2 * c2 - u2 * s2;
      const u3 = mr + jr;
      const v3 = mi + ji;
      const c3 = cos[3 * a];
      const s3 = sin[3 * a];
      yr[to + 3] = u3 * c3 + v3 * s3;
      yi[to + 3] = v3 * c3 - u3 * s3;
    }
  }

  private pass(
    n: number,
    stride: number,
    xr: Float64Array,
    xi: Float64Array,
    yr: Float64Array,
    yi: Float64Array,
  ): void {
    const { cos, sin } = this;
    const quarter = n >> 2;
    const hop = quarter * stride;
    for (let p = 0; p < quarter; p++) {
      const t = p * stride;
      const c1 = cos[t];
      const s1 = sin[t];
      const c2 = cos[2 * t];
      const s2 = sin[2 * t];
      const c3 = cos[3 * t];
      const s3 = sin[3 * t];
      let from = t;
      let to = 4 * t;
      for (let q = 0; q < stride; q++) {
        const ar = xr[from];
        const ai = xi[from];
        const br = xr[from + hop];
        const bi = xi[from + hop];
        const cr = xr[from + 2 * hop];
        const ci = xi[from + 2 * hop];
        const dr = xr[from + 3 * hop];
        const di = xi[from + 3 * hop];
        from++;
        const pr = ar + cr;
        const pi = ai + ci;
        const mr = ar - cr;
        const mi = ai - ci;
        const qr = br + dr;
        const qi = bi + di;
        const jr = di - bi;
        const ji = br - dr;
        yr[to] = pr + qr;
        yi[to] = pi + qi;
        const u1 = mr - jr;
        const v1 = mi - ji;
        yr[to + stride] = u1 * c1 + v1 * s1;
        yi[to + stride] = v1 * c1 - u1 * s1;
        const u2 = pr - qr;
        const v2 = pi - qi;
        yr[to + 2 * stride] = u2 * c2 + v2 * s2;
        yi[to + 2 * stride] = v2 * c2 - u2 * s2;
        const u3 = mr + jr;
        const v3 = mi + ji;
        yr[to + 3 * stride] = u3 * c3 + v3 * s3;
        yi[to + 3 * stride] = v3 * c3 - u3 * s3;
        to++;
      }
    }
  }
}

function lastFour(
  stride: number,
  xr: Float64Array,
  xi: Float64Array,
  yr: Float64Array,
  yi: Float64Array,
): void {
  for (let a = 0, b = stride, c = 2 * stride, d = 3 * stride; a < stride; a++, b++, c++, d++) {
    const pr = xr[a] + xr[c];
    const pi = xi[a] + xi[c];
    const mr = xr[a] - xr[c];
    const mi = xi[a] - xi[c];
    const qr = xr[b] + xr[d];
    const qi = xi[b] + xi[d];
    const jr = xi[d] - xi[b];
    const ji = xr[b] - xr[d];
    yr[a] = pr + qr;
    yi[a] = pi + qi;
    yr[b] = mr - jr;
    yi[b] = mi - ji;
    yr[c] = pr - qr;
    yi[c] = pi - qi;
    yr[d] = mr + jr;
    yi[d] = mi + ji;
  }
}

function lastTwo(
  stride: number,
  xr: Float64Array,
  xi: Float64Array,
  yr: Float64Array,
  yi: Float64Array,
): void {
  for (let a = 0, b = stride; a < stride; a++, b++) {
    const ar = xr[a];
    const ai = xi[a];
    const br = xr[b];
    const bi = xi[b];
    yr[a] = ar + br;
    yi[a] = ai + bi;
    yr[b] = ar - br;
    yi[b] = ai - bi;
  }
}
