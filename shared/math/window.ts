/** A periodic Hann window: shifted by a quarter of its length its squares add up to a constant. */
export function hann(size: number): Float64Array {
  return Float64Array.from(
    { length: size },
    (_, i) => 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / size),
  );
}
