import type { KernelFft } from './kernel-fft.ts';
import { hann } from './window.ts';

const places = new Map<number, KernelFrames>();

/**
 * Frames of complex signals under a Hann window by WebAssembly SIMD, taken apart and added up again. There is
 * one for each size, so only its arrays' content from call to call is anybody's.
 */
export class KernelFrames {
  private readonly size: number;
  private readonly xAt: number;
  private readonly yAt: number;
  private readonly windowAt: number;
  private readonly sumRe: number;
  private readonly sumIm: number;
  private x = new Float32Array(0);
  private y = new Float32Array(0);
  private re = new Float64Array(0);
  private im = new Float64Array(0);
  private toRe = new Float64Array(0);
  private toIm = new Float64Array(0);

  private constructor(private readonly fft: KernelFft) {
    const { size, room } = fft;
    this.size = size;
    this.xAt = room.place(size * 4);
    this.yAt = room.place(size * 4);
    this.windowAt = room.keepDoubles(hann(size));
    this.sumRe = room.place(size * 8);
    this.sumIm = room.place(size * 8);
  }

  /** The one that goes with a transform. */
  static of(fft: KernelFft): KernelFrames {
    let place = places.get(fft.size);
    if (!place) {
      place = new KernelFrames(fft);
      places.set(fft.size, place);
    }
    return place;
  }

  /** The spectrum of `count` samples of `x` and `y` from `from` on, which stand at `at` in the frame; the rest is silent. */
  apart(
    x: Float32Array,
    y: Float32Array,
    from: number,
    at: number,
    count: number,
    re: Float64Array,
    im: Float64Array,
  ): void {
    this.view();
    const { fft, size } = this;
    if (count > 0) {
      this.x.set(x.subarray(from, from + count), at);
      this.y.set(y.subarray(from, from + count), at);
    }
    if (count < size)
      for (const part of [this.x, this.y]) {
        part.fill(0, 0, at);
        part.fill(0, at + count);
      }
    fft.kernel.windowed(
      ...([this.xAt, this.yAt, this.windowAt, size] as const),
      ...([fft.reAt, fft.imAt, fft.workRe, fft.workIm, fft.turns] as const),
    );
    re.set(this.re);
    im.set(this.im);
  }

  /** Adds a frame, given its spectrum, to what stands from `at` on. */
  together(
    re: Float64Array,
    im: Float64Array,
    toRe: Float64Array,
    toIm: Float64Array,
    at: number,
  ): void {
    this.view();
    const { fft, size } = this;
    this.re.set(re);
    this.im.set(im);
    this.toRe.set(toRe.subarray(at, at + size));
    this.toIm.set(toIm.subarray(at, at + size));
    fft.kernel.overlapped(
      ...([fft.reAt, fft.imAt, fft.workRe, fft.workIm, fft.turns, size] as const),
      ...([this.windowAt, this.sumRe, this.sumIm] as const),
    );
    toRe.set(this.toRe, at);
    toIm.set(this.toIm, at);
  }

  /** Memory that has grown is elsewhere. */
  private view(): void {
    if (this.x.length > 0) return;
    const { fft, size } = this;
    const { room } = fft;
    this.x = room.floats(this.xAt, size);
    this.y = room.floats(this.yAt, size);
    this.re = room.doubles(fft.reAt, size);
    this.im = room.doubles(fft.imAt, size);
    this.toRe = room.doubles(this.sumRe, size);
    this.toIm = room.doubles(this.sumIm, size);
  }
}
