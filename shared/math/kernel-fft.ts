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
    turns: Float64Array,
  ) {
    this.reAt = room.place(size * 8);
    this.imAt = room.place(size * 8);
    this.workRe = room.place(size * 8);
    this.workIm = room.place(size * 8);
    this.turns = room.place(turns.length * 8);
    room.doubles(this.turns, turns.length).set(turns);
  }

  /** The one for a size (a power of two, 16 or more); null where the machine has no WebAssembly SIMD. */
  static of(size: number, cos: Float64Array, sin: Float64Array): KernelFft | null {
    const lasting = lastingKernels();
    if (!lasting) return null;
    let place = places.get(size);
    if (!place) {
      place = new KernelFft(size, lasting.kernel, lasting.room, turnsOf(size, cos, sin));
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

/** What the passes turn by, in the order in which the kernel asks for it. */
function turnsOf(size: number, cos: Float64Array, sin: Float64Array): Float64Array {
  const turns: number[] = [];
  const quarter = size >> 2;
  for (let a = 0; a < quarter; a += 2)
    for (let j = 1; j <= 3; j++)
      turns.push(cos[j * a], cos[j * (a + 1)], sin[j * a], sin[j * (a + 1)]);
  let stride = 4;
  for (let n = quarter; n > 4; n >>= 2) {
    for (let p = 0; p < n >> 2; p++)
      for (let j = 1; j <= 3; j++) turns.push(cos[j * p * stride], sin[j * p * stride]);
    stride *= 4;
  }
  return Float64Array.from(turns);
}
