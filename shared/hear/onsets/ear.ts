import { packedBytes, packedRows } from '../../math/packed-bytes.ts';
import type { OnsetNet } from './net.ts';
import {
  FIRST,
  FIRST_BIASES,
  GLANCE,
  GLANCE_BIAS,
  HIDDEN,
  SECOND,
  SECOND_BIASES,
  STEPS,
  THIRD,
  THIRD_BIASES,
} from './weights.ts';

/** Sums of the glance under which a cell is passed over: it saves most of the work, and no attacks. */
const WORTH_A_LOOK = -2;

let ear: OnsetNet | undefined;

/** The ear as it was taught, unpacked once. */
export function taughtEar(): OnsetNet {
  ear ??= {
    hidden: HIDDEN,
    weights: [
      packedRows(packedBytes(FIRST), STEPS),
      Float64Array.from(SECOND),
      Float64Array.from(THIRD),
    ],
    biases: [
      Float64Array.from(FIRST_BIASES),
      Float64Array.from(SECOND_BIASES),
      Float64Array.from(THIRD_BIASES),
    ],
    glance: Float64Array.from(GLANCE),
    glanceBias: GLANCE_BIAS,
    worthALook: WORTH_A_LOOK,
  };
  return ear;
}
