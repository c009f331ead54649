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
  private readonly weightAt: number;
  private x = new Float32Array(0);
  private y = new Float32Array(0);

  private constructor(private readonly fft: KernelFft) {
    const { size, room } = fft;
    this.size = size;
    this.xAt = room.place(size * 4);
    this.yAt = room.place(size * 4);
    const window = hann(size);
    this.windowAt = room.keepDoubles(window);
    this.weightAt = room.keepDoubles(window.map((w) => w * w * size));
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

  /**
   * The spectrum of `count` samples of `x` and `y` from `from` on, which stand at `at` in the frame; the rest is silent.
   *
   * @param to address of what receives `size` real parts and as many imaginary ones
   */
  apart(
    x: Float32Array,
    y: Float32Array,
    from: number,
    at: number,
    count: number,
    to: number,
  ): void {
    this.view();
    const { size } = this;
    if (count > 0) {
      this.x.set(x.subarray(from, from + count), at);
      this.y.set(y.subarray(from, from + count), at);
    }
    if (count < size)
      for (const part of [this.x, this.y]) {
        part.fill(0, 0, at);
        part.fill(0, at + count);
      }
    this.apartPlaced(this.xAt, this.yAt, to);
  }

  /** The same of a whole frame whose samples kernels find at two addresses. */
  apartPlaced(x: number, y: number, to: number): void {
    const { fft, size, windowAt } = this;
    const { kernel, workRe, workIm, turns } = fft;
    kernel.windowed(x, y, windowAt, size, to, to + size * 8, workRe, workIm, turns);
  }

  /**
   * Adds samples `low` to `high` of a frame, given its spectrum, to sums that begin with the one for `low`.
   *
   * @param frame address of `size` real parts and as many imaginary ones
   * @param sumRe address of the sums of the real parts, as `sumIm`
   */
  together(frame: number, low: number, high: number, sumRe: number, sumIm: number): void {
    const { fft, size, windowAt } = this;
    const { kernel, reAt, imAt, workRe, workIm, turns } = fft;
    kernel.overlapped(
      frame,
      frame + size * 8,
      reAt,
      imAt,
      workRe,
      workIm,
      turns,
      size,
      windowAt,
      low,
      high,
      sumRe,
      sumIm,
    );
  }

  /** Adds what windows of `count` samples of a frame from `low` on weigh, squared and times the size, to sums. */
  weigh(low: number, count: number, sums: number): void {
    this.fft.kernel.added(this.weightAt + low * 8, count, sums);
  }

  /** Memory that has grown is elsewhere. */
  private view(): void {
    if (this.x.length > 0) return;
    const { fft, size } = this;
    const { room } = fft;
    this.x = room.floats(this.xAt, size);
    this.y = room.floats(this.yAt, size);
  }
}
