import { KernelRoom, type Kernels, ownKernels } from './kernel.ts';

/** Kernels with the memory that they work in. */
export interface LastingKernels {
  readonly kernel: Kernels;
  readonly room: KernelRoom;
}

let own: LastingKernels | null | undefined;

/** The kernels that transform, whose memory holds tables and scratch for good; null where there is no WebAssembly SIMD. */
export function lastingKernels(): LastingKernels | null {
  if (own === undefined) {
    const kernel = ownKernels();
    own = kernel && { kernel, room: new KernelRoom(kernel) };
  }
  return own;
}

const places = new Map<number, KernelFft>();

/**
 * Fourier transform of complex signals by WebAssembly SIMD: what `ComplexFft` does, to the last bit.
 * There is one for each size, so only its arrays' content from call to call is anybody's.
 */
export class KernelFft {
  private reView = new Float64Array(0);
  private imView = new Float64Array(0);
  readonly reAt: number;
  readonly imAt: number;
  readonly workRe: number;
  readonly workIm: number;
  readonly turns: number;

  private constructor(
    readonly size: number,
    readonly kernel: Kernels,
    readonly room: KernelRoom,
  ) {
    this.reAt = room.place(size * 8);
    this.imAt = room.place(size * 8);
    this.workRe = room.place(size * 8);
    this.workIm = room.place(size * 8);
    this.turns = room.place(2 * size * 8);
    kernel.passTurns(size, this.turns);
  }

  /** The one for a size (a power of two, 16 or more); null where the machine has no WebAssembly SIMD. */
  static of(size: number): KernelFft | null {
    const lasting = lastingKernels();
    if (!lasting) return null;
    let place = places.get(size);
    if (!place) {
      place = new KernelFft(size, lasting.kernel, lasting.room);
      places.set(size, place);
    }
    return place;
  }

  transform(re: Float64Array, im: Float64Array): void {
    // Memory that has grown is elsewhere.
    if (this.reView.length === 0) {
      this.reView = this.room.doubles(this.reAt, this.size);
      this.imView = this.room.doubles(this.imAt, this.size);
    }
    const { reView, imView } = this;
    reView.set(re);
    imView.set(im);
    this.kernel.transform(this.reAt, this.imAt, this.workRe, this.workIm, this.turns, this.size);
    re.set(reView);
    im.set(imView);
  }
}
