import type { BitReader } from './bit-reader.ts';

/** Coefficients of the fixed predictors of order 0 to 4 (RFC 9639, section 9.2.5). */
const fixed: readonly (readonly number[])[] = [[], [1], [2, -1], [3, -3, 1], [4, -6, 4, -1]];

/** Thrown where a stream breaks the format. */
export class BrokenFlac extends Error {
  override readonly name = 'BrokenFlac';
}

/**
 * Reads one channel of one frame (RFC 9639, section 9.2) into `out`, which is as long as the block.
 *
 * @param depth bits a sample, one more for a side channel
 */
export function readSubframe(bits: BitReader, depth: number, out: Float64Array): void {
  if (bits.unsigned(1) !== 0) throw new BrokenFlac();
  const type = bits.unsigned(6);
  const wasted = bits.unsigned(1) === 1 ? bits.zeros() + 1 : 0;
  const size = depth - wasted;
  if (size < 1) throw new BrokenFlac();
  if (type === 0) out.fill(bits.signed(size));
  else if (type === 1) for (let i = 0; i < out.length; i++) out[i] = bits.signed(size);
  else if (type >= 8 && type <= 12) {
    readWarmUp(bits, size, type - 8, out);
    readResidual(bits, type - 8, out);
    predict(out, fixed[type - 8], 0);
  } else if (type >= 32) {
    const order = type - 31;
    readWarmUp(bits, size, order, out);
    const precision = bits.unsigned(4) + 1;
    if (precision === 16) throw new BrokenFlac();
    const shift = bits.signed(5);
    if (shift < 0) throw new BrokenFlac();
    const coefficients = Array.from({ length: order }, () => bits.signed(precision));
    readResidual(bits, order, out);
    predict(out, coefficients, shift);
  } else throw new BrokenFlac();
  if (wasted > 0) for (let i = 0; i < out.length; i++) out[i] *= 2 ** wasted;
}

function readWarmUp(bits: BitReader, size: number, order: number, out: Float64Array): void {
  if (order > out.length) throw new BrokenFlac();
  for (let i = 0; i < order; i++) out[i] = bits.signed(size);
}

/** Rice-coded differences from the prediction, in partitions (section 9.2.7). */
function readResidual(bits: BitReader, order: number, out: Float64Array): void {
  const method = bits.unsigned(2);
  if (method > 1) throw new BrokenFlac();
  const width = method === 0 ? 4 : 5;
  const unfolded = method === 0 ? 15 : 31;
  const partitions = 2 ** bits.unsigned(4);
  const each = out.length / partitions;
  if (!Number.isInteger(each) || each < order) throw new BrokenFlac();
  let at = order;
  for (let p = 0; p < partitions; p++) {
    const end = (p + 1) * each;
    const parameter = bits.unsigned(width);
    if (parameter === unfolded) {
      const raw = bits.unsigned(5);
      for (; at < end; at++) out[at] = bits.signed(raw);
    } else {
      const scale = 2 ** parameter;
      for (; at < end; at++) {
        const folded = bits.zeros() * scale + bits.unsigned(parameter);
        // Zigzag: even is 0, 1, 2, ...; odd is -1, -2, ...
        out[at] = folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
      }
    }
  }
}

/** Adds the prediction to the differences, sample by sample. Sums stay whole: they are below 2^53. */
function predict(out: Float64Array, coefficients: readonly number[], shift: number): void {
  const order = coefficients.length;
  const scale = 2 ** -shift;
  for (let i = order; i < out.length; i++) {
    let sum = 0;
    for (let k = 0; k < order; k++) sum += coefficients[k] * out[i - 1 - k];
    out[i] += Math.floor(sum * scale);
  }
}
