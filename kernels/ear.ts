import { dot, fourDots, gathered } from './dots';
import { layer } from './perceptron';

// @ts-expect-error: decorator
@external('math', 'exp')
declare function exp(x: f64): f64;

/** The network that hears onsets and what it looks at; shared/hear/onsets/net.ts fills it in. */
// @ts-expect-error: decorator
@unmanaged
class Ear {
  glanceBias: f64;
  worthALook: f64;
  table: usize;
  runs: i32;
  /** Four rows of `row` floats. */
  x: usize;
  row: i32;
  glance: usize;
  weights: usize;
  units: i32;
  /** Room for four rows of `units` floats. */
  sums: usize;
  biases: usize;
  /** Room for `units` doubles. */
  first: usize;
  second: usize;
  secondBiases: usize;
  secondUnits: i32;
  secondOut: usize;
  third: usize;
  thirdBiases: usize;
  parts: i32;
  thirdOut: usize;
  /** Room for four numbers of cells. */
  group: usize;
}

/** Likelihoods of up to four cells that stand in `x`. */
function judge(p: Ear, count: i32, out: usize): void {
  fourDots(p.x, p.weights, p.row, p.units, p.sums);
  for (let i = 0; i < count; i++) {
    const sums = p.sums + <usize>(i * p.units) * 4;
    for (let u: usize = 0; u < <usize>p.units; u++) {
      const sum = max(0, <f64>load<f32>(sums + u * 4) + load<f64>(p.biases + u * 8));
      store<f64>(p.first + u * 8, <f64>(<f32>sum));
    }
    layer(p.first, p.units, p.second, p.secondBiases, p.secondUnits, 0, p.secondOut);
    layer(p.secondOut, p.secondUnits, p.third, p.thirdBiases, p.parts, -Infinity, p.thirdOut);
    const to = out + <usize>(load<i32>(p.group + <usize>i * 4) * p.parts) * 4;
    for (let part: usize = 0; part < <usize>p.parts; part++)
      store<f32>(to + part * 4, <f32>(1 / (1 + exp(-load<f64>(p.thirdOut + part * 8)))));
  }
}

/**
 * The likelihoods of `cells` cells, as shared/hear/onsets/net.ts has them: 0 where a glance passes over.
 *
 * @param out `parts` floats a cell
 */
export function hearCells(at: usize, cells: i32, out: usize): void {
  const p = changetype<Ear>(at);
  memory.fill(out, 0, <usize>(cells * p.parts) * 4);
  let count = 0;
  for (let cell = 0; cell < cells; cell++) {
    const x = p.x + <usize>(count * p.row) * 4;
    gathered(p.table, p.runs, cell, x);
    if (p.glanceBias + <f64>dot(x, p.glance, p.row) < p.worthALook) continue;
    store<i32>(p.group + <usize>count * 4, cell);
    if (++count < 4) continue;
    judge(p, 4, out);
    count = 0;
  }
  judge(p, count, out);
}

/** The network that times attacks; shared/hear/onsets/timing-net.ts fills it in. */
// @ts-expect-error: decorator
@unmanaged
class Timer {
  firstOffset: f64;
  x: usize;
  row: i32;
  weights: usize;
  units: i32;
  sums: usize;
  biases: usize;
  first: usize;
  second: usize;
  secondBiases: usize;
  secondUnits: i32;
  secondOut: usize;
  third: usize;
  thirdBiases: usize;
  /** As many answers, and with those that fill up. */
  answers: i32;
  thirdUnits: i32;
  thirdOut: usize;
}

/**
 * Times `count` of up to four looks that stand in `x`: for each a place in milliseconds and how sure it is
 * an attack, two doubles.
 */
export function timeLooks(at: usize, count: i32, out: usize): void {
  const p = changetype<Timer>(at);
  fourDots(p.x, p.weights, p.row, p.units, p.sums);
  const places = p.answers - 1;
  for (let i = 0; i < count; i++) {
    const sums = p.sums + <usize>(i * p.units) * 4;
    for (let u: usize = 0; u < <usize>p.units; u++)
      store<f64>(p.first + u * 8, max(0, <f64>load<f32>(sums + u * 4) + load<f64>(p.biases + u * 8)));
    layer(p.first, p.units, p.second, p.secondBiases, p.secondUnits, 0, p.secondOut);
    layer(p.secondOut, p.secondUnits, p.third, p.thirdBiases, p.thirdUnits, -Infinity, p.thirdOut);
    const answers = p.thirdOut;
    let top = load<f64>(answers);
    for (let k: usize = 0; k <= <usize>places; k++) top = max(top, load<f64>(answers + k * 8));
    let attack: f64 = 0;
    for (let k: usize = 0; k < <usize>places; k++) {
      // Kept for the median.
      const likely = exp(load<f64>(answers + k * 8) - top);
      store<f64>(answers + k * 8, likely);
      attack += likely;
    }
    const none = exp(load<f64>(answers + <usize>places * 8) - top);
    let sum: f64 = 0;
    let place = 0;
    for (; place < places - 1; place++) {
      const here = load<f64>(answers + <usize>place * 8);
      if (sum + here >= attack / 2) break;
      sum += here;
    }
    const here = load<f64>(answers + <usize>place * 8);
    const within = here > 0 ? (attack / 2 - sum) / here : 0.5;
    store<f64>(out, p.firstOffset + <f64>place - 0.5 + within);
    store<f64>(out + 8, attack / (attack + none));
    out += 16;
  }
}
