import { perceived } from './perceptron';

// @ts-expect-error: decorator
@external('math', 'log')
declare function log(x: f64): f64;

// @ts-expect-error: decorator
@external('math', 'log1p')
declare function log1p(x: f64): f64;

/** What an interval is described from, and the network that judges it; shared/hear/beats/rhythm.ts fills it in. */
// @ts-expect-error: decorator
@unmanaged
class Onsets {
  /** How far beside an interval onsets are looked at, in beats. */
  margin: f64;
  /** Least that an onset inside or beside an interval is like a beat. */
  low: f64;
  count: i32;
  times: usize;
  /** `cuesEach` doubles an onset. */
  cues: usize;
  cuesEach: i32;
  odds: usize;
  /** How likely each onset is to carry a beat. */
  likely: usize;
  /** Which cues of the ends are looked at. */
  own: usize;
  owns: i32;
  parts: i32;
  mostParts: i32;
  inputs: i32;
  /** Room for `inputs` floats. */
  out: usize;
  net: usize;
}

// @ts-expect-error: decorator
@inline
function double(at: usize, i: i32): f64 {
  return load<f64>(at + (<usize>i << 3));
}

// @ts-expect-error: decorator
@inline
function put(out: usize, i: i32, value: f64): void {
  store<f32>(out + (<usize>i << 2), <f32>value);
}

// @ts-expect-error: decorator
@inline
function raise(out: usize, i: i32, value: f64): void {
  const at = out + (<usize>i << 2);
  store<f32>(at, <f32>max(<f64>load<f32>(at), value));
}

function slotOf(place: i32, beats: i32, parts: i32): i32 {
  const end = parts * beats;
  const silent = 2 * parts - 1;
  if (place < 0) return place < -parts ? -1 : place + parts;
  if (place > end) return place > end + parts ? -1 : silent + place - end;
  if (place == 0 || place == end) return -1;
  return place % parts == 0 ? silent : parts - 1 + (place % parts);
}

/**
 * Log odds that an interval is made of beats: `describeInterval` of shared/hear/beats/rhythm.ts with the same
 * sums in the same order, then its network.
 */
export function intervalOdds(at: usize, first: i32, last: i32, start: f64, end: f64, beats: i32): f64 {
  const p = changetype<Onsets>(at);
  const out = p.out;
  memory.fill(out, 0, <usize>p.inputs * 4);
  const length = (end - start) / <f64>beats;
  put(out, 0, log(length));
  put(out, 1, first < 0 ? 0 : double(p.odds, first));
  put(out, 2, last < 0 ? 0 : double(p.odds, last));
  let inside = p.low;
  let beside = p.low;
  put(out, 4 + beats, 1);
  let to = 5 + p.mostParts;
  for (let c = 0; c < p.owns; c++) {
    const cue = load<i32>(p.own + (<usize>c << 2));
    put(out, to++, first < 0 ? 0 : double(p.cues, first * p.cuesEach + cue));
    put(out, to++, last < 0 ? 0 : double(p.cues, last * p.cuesEach + cue));
  }
  const margin = p.margin * length;
  const earliest = start - margin;
  let low = 0;
  let high = p.count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (double(p.times, middle) < earliest) low = middle + 1;
    else high = middle;
  }
  let count = 0;
  for (let k = low; k < p.count; k++) {
    const time = double(p.times, k);
    if (time > end + margin) break;
    if (k == first || k == last) continue;
    const like = double(p.likely, k);
    if (time > start && time < end) {
      count++;
      inside = max(inside, double(p.odds, k));
    } else beside = max(beside, double(p.odds, k));
    const place = ((time - start) / length) * <f64>p.parts;
    const floor = Math.floor(place);
    for (let side = 0; side < 2; side++) {
      const next = floor + <f64>side;
      const slot = slotOf(<i32>next, beats, p.parts);
      if (slot < 0) continue;
      const near = 1 - Math.abs(place - next);
      raise(out, to + 2 * slot, near);
      raise(out, to + 2 * slot + 1, near * like);
    }
  }
  put(out, 3, inside);
  put(out, 4, beside);
  put(out, p.inputs - 1, log1p(<f64>count / <f64>beats));
  return perceived(p.net, out);
}
