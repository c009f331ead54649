import { decibelsOf } from './decibels';

// @ts-expect-error: decorator
@external('math', 'log')
declare function log(x: f64): f64;

/** The largest of `count` floats and 0. */
export function largest(x: usize, count: i32): f32 {
  let most: f32 = 0;
  for (const end = x + <usize>count * 4; x < end; x += 4) {
    const value = load<f32>(x);
    if (value > most) most = value;
  }
  return most;
}

/**
 * Log-compressed positive flux of rows of powers, as the plain form of shared/warp/plan/flux.ts adds it up: by how
 * much each power passes the largest that `memory` rows before the last one had in its column.
 *
 * @param power rows of `width` floats, of which the flux of `first` to `end` is asked
 * @param columns so many from the left count
 * @param bandOf for each column the band (from 0) that it belongs to
 * @param shares for each column what it counts for in its band, in double precision
 * @param all receives a float for each row
 * @param ofBands receives the same for each of `bands` bands, one after the other with room for `room` rows each
 */
export function fluxes(
  power: usize, width: i32, first: i32, end: i32, memory: i32, gamma: f64, columns: i32,
  bandOf: usize, shares: usize, all: usize, bands: i32, ofBands: usize, room: i32,
): void {
  const row = <usize>width * 4;
  const next = <usize>room * 4;
  for (let f = first; f < end; f++) {
    const now = power + <usize>f * row;
    const oldest = power + <usize>max(0, f - memory) * row;
    for (let b = 0; b < bands; b++) store<f32>(ofBands + <usize>b * next, 0);
    let sum: f64 = 0;
    for (let c = 0; c < columns; c++) {
      const at = <usize>c * 4;
      const is = load<f32>(now + at);
      let before: f32 = 0;
      for (let was = now - 2 * row + at; was >= oldest && before < is; was -= row) {
        const p = load<f32>(was);
        if (p > before) before = p;
      }
      if (is <= before) continue;
      const risen = log((1 + gamma * <f64>is) / (1 + gamma * <f64>before));
      sum += risen;
      const band = ofBands + <usize>load<i32>(bandOf + at) * next;
      store<f32>(band, <f32>(<f64>load<f32>(band) + risen * load<f64>(shares + at * 2)));
    }
    store<f32>(all, <f32>(sum / <f64>columns));
    all += 4;
    ofBands += 4;
  }
}

/**
 * Levels (dB) of some columns, over each `mean` rows that follow each other.
 *
 * @param power `rows` rows of `width` floats, `mean` or more
 * @param from first column that counts, `to` one past the last
 * @param sums room for `rows` doubles
 * @param levels receives a double for each row but the last `mean - 1`
 */
export function bandLevels(
  power: usize, width: i32, rows: i32, from: i32, to: i32, mean: i32, sums: usize, levels: usize,
): void {
  for (let r = 0; r < rows; r++) {
    let sum: f64 = 0;
    for (let c = from; c < to; c++) sum += <f64>load<f32>(power + <usize>c * 4);
    store<f64>(sums + <usize>r * 8, sum);
    power += <usize>width * 4;
  }
  for (const end = sums + <usize>(rows - mean + 1) * 8; sums < end; sums += 8) {
    let sum: f64 = 1e-12;
    for (let i = 0; i < mean; i++) sum += load<f64>(sums + <usize>i * 8);
    store<f64>(levels, decibelsOf(sum));
    levels += 8;
  }
}

/** What a straight line through levels comes from, as shared/warp/plan/decay.ts has it. */
// @ts-expect-error: decorator
@unmanaged
class Line {
  /** Running mean of power, the least that it was, and by what it rose at most after that. */
  mean: f64;
  least: f64;
  risen: f64;
  /** Sums of row numbers, levels (dB), their squares and products. */
  sx: f64;
  sy: f64;
  sxx: f64;
  sxy: f64;
}

/**
 * Goes on with a line through the level of some columns.
 *
 * @param power `rows` rows of `width` floats
 * @param first number of the first row
 * @param from first column that counts, `to` one past the last
 * @param calm share by which the running mean moves in a row
 */
export function levelLine(
  power: usize, width: i32, rows: i32, first: i32, from: i32, to: i32, calm: f64, line: Line,
): void {
  let mean = line.mean;
  let least = line.least;
  let risen = line.risen;
  let sx = line.sx;
  let sy = line.sy;
  let sxx = line.sxx;
  let sxy = line.sxy;
  for (let r = 0; r < rows; r++) {
    let sum: f64 = 0;
    for (let c = from; c < to; c++) sum += <f64>load<f32>(power + <usize>c * 4);
    power += <usize>width * 4;
    mean = mean < 0 ? sum : mean + calm * (sum - mean);
    if (mean < least) least = mean;
    else if (mean > least * risen) risen = mean / least;
    const y = decibelsOf(sum + 1e-12);
    const x = <f64>(first + r);
    sx += x;
    sy += y;
    sxx += x * x;
    sxy += x * y;
  }
  line.mean = mean;
  line.least = least;
  line.risen = risen;
  line.sx = sx;
  line.sy = sy;
  line.sxx = sxx;
  line.sxy = sxy;
}
