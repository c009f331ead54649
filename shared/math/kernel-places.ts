import { type LastingKernels, lastingKernels } from './kernel-fft.ts';

/** Some numbers, in plain memory or where kernels find them. */
export interface Doubles {
  /** Asked for anew each time: the kernels' memory moves when it grows. */
  readonly values: Float64Array;
  /** Address in the kernels' memory, if they lie there. */
  readonly at?: number;
}

/** Some that are left to others in the end. */
export interface LentDoubles extends Doubles {
  leave(): void;
}

const none = new Float64Array(0);
/** Addresses that were left, by how many bytes lie there. */
const left = new Map<number, number[]>();

/**
 * A place for doubles in the lasting kernels' memory, with anything in it. That memory is never given back to the
 * machine, so who takes a place leaves it in the end, and the next one who asks for as much gets it.
 */
export class Place implements LentDoubles {
  readonly at: number;
  private view = none;

  private constructor(
    /** The kernels that work here, and their memory. */
    readonly kernels: LastingKernels,
    readonly length: number,
  ) {
    const bytes = length * 8;
    this.at = left.get(bytes)?.pop() ?? kernels.room.place(bytes);
  }

  /** Null where the machine has no WebAssembly SIMD. */
  static take(length: number): Place | null {
    const lasting = lastingKernels();
    return lasting && new Place(lasting, length);
  }

  /** Leaves it to others; it is of no use from then on. */
  leave(): void {
    const bytes = this.length * 8;
    const same = left.get(bytes);
    if (same) same.push(this.at);
    else left.set(bytes, [this.at]);
  }

  get values(): Float64Array {
    if (this.view.length === 0) this.view = this.kernels.room.doubles(this.at, this.length);
    return this.view;
  }
}

/**
 * Doubles with anything in them.
 *
 * @param plain for plain memory, whatever the machine has
 */
export function takeDoubles(length: number, plain = false): LentDoubles {
  const place = plain ? null : Place.take(length);
  return place ?? { values: new Float64Array(length), leave: () => {} };
}
