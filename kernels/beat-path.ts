// @ts-expect-error: decorator
@external('math', 'log')
declare function log(x: f64): f64;

/** Worth of the rhythm of an interval that is divided into beats: what the network makes of it. */
// @ts-expect-error: decorator
@external('beats', 'rhythm')
declare function rhythm(from: i32, to: i32, parts: i32, enough: f64): f64;

/** Everything that a search is made from, and where it lies; shared/hear/beats/path-kernel.ts fills it in. */
// @ts-expect-error: decorator
@unmanaged
class PathSearch {
  perJitter: f64;
  perMove: f64;
  leap: f64;
  aside: f64;
  slight: f64;
  shortest: f64;
  longest: f64;
  reach: f64;
  step: f64;
  /** Logs of the interval that is known before the first place and of the expected one, over the shortest. */
  known: f64;
  expected: f64;
  patternWeight: f64;
  soundingWeight: f64;
  soundLog: f64;
  silentLog: f64;
  places: i32;
  bins: i32;
  band: i32;
  starts: i32;
  freeAt: i32;
  /** 1 where the interval before the first place is known. */
  knows: i32;
  /** Most beats from one place to the next, and where all but the first of them lie in one silence. */
  most: i32;
  held: i32;
  /** Parts up to which there are logs. */
  logged: i32;
  /** Parts of a beat, and steps of density. */
  parts: i32;
  steps: i32;
  zones: i32;
  times: usize;
  scores: usize;
  must: usize;
  levelCost: usize;
  levelLow: usize;
  logs: usize;
  value: usize;
  tops: usize;
  topBins: usize;
  moved: usize;
  cameFrom: usize;
  movedFrom: usize;
  onsets: usize;
  firstOnsets: usize;
  rates: usize;
  /** 0 where nothing is known of the onsets' places in the beat. */
  gains: usize;
  patterns: usize;
  bits: usize;
  filled: usize;
  gained: usize;
  lowLog: usize;
  highRest: usize;
  struck: usize;
  mostRhythms: usize;
}

// @ts-expect-error: decorator
@inline
function double(at: usize, i: i32): f64 {
  return load<f64>(at + (<usize>i << 3));
}

// @ts-expect-error: decorator
@inline
function whole(at: usize, i: i32): i32 {
  return load<i32>(at + (<usize>i << 2));
}

/** Halves are rounded up, as JavaScript does. */
// @ts-expect-error: decorator
@inline
function rounded(x: f64): f64 {
  const above = Math.ceil(x);
  return above - 0.5 > x ? above - 1 : above;
}

function binAt(p: PathSearch, x: f64): i32 {
  return max(0, min(p.bins - 1, <i32>rounded(x / p.step)));
}

function within(p: PathSearch, time: f64): bool {
  for (let z = 0; z < p.zones; z++)
    if (time > double(p.struck, 2 * z) && time < double(p.struck, 2 * z + 1)) return true;
  return false;
}

/** What an interval is worth, or the least number where it can't be worth `enough`: `spanScore` says how. */
function spanWorth(p: PathSearch, from: i32, to: i32, parts: i32, enough: f64): f64 {
  const inner = p.parts - 1;
  const start = double(p.times, from);
  const interval = (double(p.times, to) - start) / <f64>parts;
  const first = whole(p.firstOnsets, from);
  const last = whole(p.firstOnsets, to);
  const dense = Math.min(
    0.9,
    ((double(p.rates, from) + double(p.rates, to)) * 0.5 * interval) / <f64>p.parts,
  );
  const step = <i32>(dense * <f64>p.steps);
  const mostRhythm = double(p.mostRhythms, from);
  const fill = p.patternWeight * double(p.filled, step * p.parts + min(inner, last - first));
  const most =
    p.soundingWeight *
      (p.soundLog - double(p.lowLog, step) + <f64>(parts - 1) * (p.silentLog - double(p.highRest, step))) +
    <f64>parts * fill +
    mostRhythm +
    double(p.gained, last) -
    double(p.gained, first);
  if (most < enough) return -Infinity;
  const yes = log(dense);
  const no = log(1 - dense);
  let worth = p.soundingWeight * (p.soundLog - yes);
  const scale = <f64>p.parts / interval;
  let i = first;
  for (let part = 0; part < parts; part++) {
    const at = start + <f64>part * interval;
    if (part > 0) {
      if (p.zones > 0 && within(p, at)) return -Infinity;
      worth += p.soundingWeight * (p.silentLog - no);
    }
    const until = at + interval;
    let mask = 0;
    let alike: f64 = 0;
    for (; i < last; i++) {
      const onset = double(p.onsets, i);
      if (onset >= until) break;
      const place = <i32>((onset - at) * scale + 0.5);
      if (place <= 0 || place > inner) continue;
      mask |= 1 << (place - 1);
      if (p.gains != 0) alike += double(p.gains, i * p.parts + place);
    }
    const bits = <i32>load<u8>(p.bits + mask);
    worth += alike + p.patternWeight * (double(p.patterns, mask) - <f64>bits * yes - <f64>(inner - bits) * no);
  }
  return worth + mostRhythm < enough ? -Infinity : worth + rhythm(from, to, parts, enough - worth);
}

/** Lets the tempo of one place move: best of all tempi less the cost of the move, at most `leap`. */
function spreadTempo(p: PathSearch, moved: usize, movedFrom: usize, leap: f64): void {
  const bins = p.bins;
  const perBin = p.perMove;
  let best: f64 = -Infinity;
  let bestBin = 0;
  let run: f64 = -Infinity;
  let source = 0;
  for (let bin = 0; bin < bins; bin++) {
    const v = double(p.value, bin);
    if (v > best) {
      best = v;
      bestBin = bin;
    }
    run -= perBin;
    if (v >= run) {
      run = v;
      source = bin;
    }
    store<f64>(moved + (<usize>bin << 3), run);
    store<i16>(movedFrom + (<usize>bin << 1), source);
  }
  run = -Infinity;
  source = 0;
  const leapt = best - leap;
  for (let bin = bins - 1; bin >= 0; bin--) {
    const v = double(p.value, bin);
    run -= perBin;
    if (v >= run) {
      run = v;
      source = bin;
    }
    const to = moved + (<usize>bin << 3);
    let most = load<f64>(to);
    if (run > most) {
      most = run;
      store<i16>(movedFrom + (<usize>bin << 1), source);
    }
    if (leapt > most) {
      most = leapt;
      store<i16>(movedFrom + (<usize>bin << 1), bestBin);
    }
    store<f64>(to, most);
  }
}

/**
 * The dynamic programming of `findPath` (shared/hear/beats/path.ts), with the same sums in the same order:
 * fills `tops`, `topBins`, `cameFrom` and `movedFrom`, from which the path is read.
 */
export function searchPath(at: usize): void {
  const p = changetype<PathSearch>(at);
  const bins = p.bins;
  const band = p.band;
  let lastMust = -1;
  for (let j = 0; j < p.places; j++) {
    const time = double(p.times, j);
    const score = double(p.scores, j);
    const mustBe = load<u8>(p.must + j) != 0;
    const leap: f64 = j == p.freeAt ? 0 : p.leap;
    const came = p.cameFrom + <usize>(j * bins) * 4;
    const silence = j > 0 ? time - double(p.times, j - 1) + p.slight : 0;
    let top: f64 = -Infinity;
    for (let bin = 0; bin < bins; bin++) {
      store<f64>(p.value + (<usize>bin << 3), -Infinity);
      store<i32>(came + (<usize>bin << 2), -1);
    }
    if (j < p.starts) {
      if (p.knows) store<f64>(p.value + (<usize>binAt(p, p.known) << 3), score);
      else
        for (let bin = 0; bin < bins; bin++)
          store<f64>(p.value + (<usize>bin << 3), score - double(p.levelCost, bin));
      for (let bin = 0; bin < bins; bin++) if (double(p.value, bin) > top) top = double(p.value, bin);
    }
    for (let i = j - 1; i >= 0; i--) {
      let gap = time - double(p.times, i);
      if (gap > p.reach && i < j - 1) {
        if (!mustBe || lastMust < 0) break;
        i = lastMust;
        gap = time - double(p.times, i);
      }
      const here = load<u8>(p.must + i) != 0;
      const forced = here && mustBe;
      const free = max(p.most, <i32>Math.ceil(gap / p.longest));
      const most = max(p.held, free);
      const length = log(gap / p.shortest);
      for (let parts = 1; parts <= most; parts++) {
        const interval = gap / <f64>parts;
        if (parts > free && gap - interval > silence) break;
        if (interval > p.longest && parts > 1) continue;
        if (interval < p.shortest && !(forced && parts == 1)) break;
        const bin = binAt(p, length - (parts <= p.logged ? double(p.logs, parts) : log(<f64>parts)));
        const from = p.moved + <usize>(i * bins) * 8;
        const gain = score - (interval > p.longest ? p.leap : 0);
        const enough =
          top -
          leap -
          p.slight -
          (double(from, bin) + p.aside - double(p.levelLow, bin) * <f64>parts + gain);
        const worth = spanWorth(p, i, j, parts, enough);
        if (worth < enough || worth == -Infinity) continue;
        const base = gain + worth;
        const high = min(bins - 1, bin + band);
        const way = i * 64 + min(63, parts);
        for (let b = max(0, bin - band); b <= high; b++) {
          const v =
            double(from, b) + base - <f64>abs(b - bin) * p.perJitter - double(p.levelCost, b) * <f64>parts;
          const to = p.value + (<usize>b << 3);
          if (v > load<f64>(to)) {
            store<f64>(to, v);
            store<i32>(came + (<usize>b << 2), way);
            if (v > top) top = v;
          }
        }
      }
      if (here) break;
    }
    if (mustBe) {
      if (top == -Infinity) {
        // Nothing else leads here: straight on from the last set beat, or a new beginning.
        const bin = binAt(
          p,
          lastMust < 0 ? p.expected : log((time - double(p.times, lastMust)) / p.shortest),
        );
        store<f64>(
          p.value + (<usize>bin << 3),
          lastMust < 0 ? 0 : double(p.moved, lastMust * bins + bin),
        );
        store<i32>(came + (<usize>bin << 2), lastMust < 0 ? -1 : lastMust * 64 + 1);
      }
      lastMust = j;
    }
    let most: f64 = -Infinity;
    let mostBin = 0;
    for (let bin = 0; bin < bins; bin++)
      if (double(p.value, bin) > most) {
        most = double(p.value, bin);
        mostBin = bin;
      }
    store<f64>(p.tops + (<usize>j << 3), most);
    store<i16>(p.topBins + (<usize>j << 1), mostBin);
    spreadTempo(p, p.moved + <usize>(j * bins) * 8, p.movedFrom + <usize>(j * bins) * 2, leap);
  }
}
