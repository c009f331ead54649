import type { OnsetNet } from './onset-net.ts';
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
} from './onset-weights.ts';

const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Sums of the glance under which a cell is passed over: it saves most of the work, and no attacks. */
const WORTH_A_LOOK = -2;

let ear: OnsetNet | undefined;

/** The ear as it was taught, unpacked once. */
export function taughtEar(): OnsetNet {
  ear ??= {
    hidden: HIDDEN,
    weights: [firstLayer(), Float64Array.from(SECOND), Float64Array.from(THIRD)],
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

function firstLayer(): Float64Array {
  const bytes = decode(FIRST);
  const width = bytes.length / HIDDEN[0];
  return Float64Array.from(bytes, (byte, i) => byte * STEPS[Math.floor(i / width)]);
}

/** Base 64 (RFC 4648, section 4) to signed bytes, without leaning on a browser or Node. */
function decode(text: string): Int8Array {
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Int8Array((text.length / 4) * 3 - padding);
  let at = 0;
  for (let i = 0; i < text.length; i += 4) {
    let word = 0;
    for (let k = 0; k < 4; k++) word = (word << 6) | Math.max(0, DIGITS.indexOf(text[i + k]));
    for (let shift = 16; shift >= 0 && at < bytes.length; shift -= 8)
      bytes[at++] = (word >> shift) & 255;
  }
  return bytes;
}
