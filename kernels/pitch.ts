// @ts-expect-error: decorator
@external('math', 'log')
declare function log(x: f64): f64;

// @ts-expect-error: decorator
@external('math', 'log2')
declare function log2(x: f64): f64;

// @ts-expect-error: decorator
@external('math', 'pow')
declare function pow(x: f64, y: f64): f64;

/** Halves are rounded up, as JavaScript does. */
// @ts-expect-error: decorator
@inline
function rounded(x: f64): f64 {
  const above = Math.ceil(x);
  return above - 0.5 > x ? above - 1 : above;
}

/**
 * The strongest peaks of one of eight spectra, as shared/hear/pitch/partials.ts finds them.
 *
 * @param powers the first bin's power of that spectrum, as `powersOfEight` leaves it
 * @param from,until bins that may be peaks
 * @param below share of the largest magnitude that a peak has at least; `least` if that is more
 * @param most peaks at most
 * @param hertz of one bin times `size`
 * @param level room for `until` + 2 doubles
 * @param out the largest magnitude; the frequencies in Hz; from 8 `most` bytes further on, their magnitudes
 * @returns how many peaks there are
 */
export function peaks(
  powers: usize, from: i32, until: i32, below: f64, least: f64, most: i32,
  hertz: f64, size: f64, level: usize, out: usize,
): i32 {
  let top: f64 = 0;
  for (let k = from - 1; k <= until + 1; k++) {
    const x = sqrt(<f64>load<f32>(powers + <usize>k * 32));
    store<f64>(level + <usize>k * 8, x);
    if (x > top) top = x;
  }
  store<f64>(out, top);
  const floor = max(top * below, least);
  const bins = out + 8;
  const heights = bins + <usize>most * 8;
  let count = 0;
  for (let k = from; k <= until; k++) {
    const at = level + <usize>k * 8;
    const x = load<f64>(at);
    if (!(x >= floor && x > load<f64>(at - 8) && x >= load<f64>(at + 8))) continue;
    let place = count;
    while (place > 0 && load<f64>(heights + <usize>(place - 1) * 8) < x) place--;
    if (place == most) continue;
    if (count < most) count++;
    for (let m = count - 1; m > place; m--) {
      store<f64>(heights + <usize>m * 8, load<f64>(heights + <usize>(m - 1) * 8));
      store<f64>(bins + <usize>m * 8, load<f64>(bins + <usize>(m - 1) * 8));
    }
    store<f64>(heights + <usize>place * 8, x);
    store<f64>(bins + <usize>place * 8, <f64>k);
  }
  for (let m = 0; m < count; m++) {
    const place = bins + <usize>m * 8;
    const k = load<f64>(place);
    const at = level + <usize>(<i32>k) * 8;
    const a = log(load<f64>(at - 8) + top * 1e-9);
    const b = log(load<f64>(at));
    const c = log(load<f64>(at + 8) + top * 1e-9);
    const shift = (0.5 * (a - c)) / (a - 2 * b + c);
    store<f64>(place, ((k + shift) * hertz) / size);
  }
  return count;
}

/**
 * What is left of peak `i` without the likely overtones of lower ones, as `withoutOvertones` of
 * shared/hear/pitch/overtones.ts has it.
 *
 * @param highest multiple of a lower peak that may be its overtone
 * @param width how far (as a ratio) it may lie from there
 * @param share of the lower peak, over the root of the multiple, that is taken off
 */
function withoutOvertones(
  frequencies: usize, magnitudes: usize, count: i32, i: i32,
  highest: f64, width: f64, share: f64, octaves: bool,
): f64 {
  const narrow = 1 / width;
  const frequency = load<f64>(frequencies + <usize>i * 8);
  let left = load<f64>(magnitudes + <usize>i * 8);
  for (let j = 0; j < count; j++) {
    const ratio = frequency / load<f64>(frequencies + <usize>j * 8);
    const multiple = rounded(ratio);
    if (multiple < 2 || multiple > highest) continue;
    if (!octaves && (<i32>multiple & (<i32>multiple - 1)) == 0) continue;
    if (ratio < multiple * narrow || ratio > multiple * width) continue;
    left -= (share * load<f64>(magnitudes + <usize>j * 8)) / sqrt(multiple);
  }
  return max(left, 0);
}

/**
 * Weights of the twelve pitch classes that peaks make, as shared/hear/pitch/chroma.ts weighs them; `highest`,
 * `width` and `share` as above, with octaves.
 */
export function pitchClasses(
  frequencies: usize, magnitudes: usize, count: i32, highest: f64, width: f64, share: f64, a4: f64, out: usize,
): void {
  for (let i = 0; i < count; i++) {
    const left = withoutOvertones(frequencies, magnitudes, count, i, highest, width, share, true);
    const note = <i32>rounded(69 + 12 * log2(load<f64>(frequencies + <usize>i * 8) / a4));
    const to = out + <usize>(((note % 12) + 12) % 12) * 8;
    store<f64>(to, load<f64>(to) + pow(left, 0.25));
  }
}

// @ts-expect-error: decorator
@external('math', 'cos')
declare function cos(x: f64): f64;

// @ts-expect-error: decorator
@external('math', 'sin')
declare function sin(x: f64): f64;

/**
 * Adds weighted unit vectors, a whole turn to a semitone, to three doubles: x, y, and the weights, as
 * shared/hear/pitch/tuning.ts weighs them; `highest`, `width` and `share` as above, without octaves.
 */
export function tuned(
  frequencies: usize, magnitudes: usize, count: i32, highest: f64, width: f64, share: f64, sums: usize,
): void {
  let x = load<f64>(sums);
  let y = load<f64>(sums + 8);
  let total = load<f64>(sums + 16);
  for (let i = 0; i < count; i++) {
    const weight = sqrt(withoutOvertones(frequencies, magnitudes, count, i, highest, width, share, false));
    const angle = 2 * Math.PI * 12 * log2(load<f64>(frequencies + <usize>i * 8) / 440);
    x += weight * cos(angle);
    y += weight * sin(angle);
    total += weight;
  }
  store<f64>(sums, x);
  store<f64>(sums + 8, y);
  store<f64>(sums + 16, total);
}
