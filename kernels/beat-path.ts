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
  /** Room for what `mostFilled` keeps: `CROWDS` rows of `parts` quadruples, and a byte for each quadruple. */
  crowds: usize;
  crowdsKnown: usize;
  /** Least cost of the level for lengths from place to place, `WIDTH` each, up to the reach: a quadruple each. */
  lengths: usize;
}

/** Steps of onsets from place to place (in parts of a beat, as if it were one) that limits are kept for; all beyond are alike. */
const CROWD: f64 = 64;
const CROWDS: i32 = 232;
/** Width of a step of length from place to place. */
const WIDTH: f64 = 0.02;

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
  const places = p.parts;
  const scale = <f64>places / interval;
  const gains = p.gains;
  const row = <usize>places * 8;
  let onsetAt = p.onsets + (<usize>first << 3);
  const end = p.onsets + (<usize>last << 3);
  let gainsAt = gains + <usize>first * row;
  for (let part = 0; part < parts; part++) {
    const at = start + <f64>part * interval;
    if (part > 0) {
      if (p.zones > 0 && within(p, at)) return -Infinity;
      worth += p.soundingWeight * (p.silentLog - no);
    }
    const until = at + interval;
    let mask = 0;
    let alike: f64 = 0;
    for (; onsetAt < end; onsetAt += 8, gainsAt += row) {
      const onset = load<f64>(onsetAt);
      if (onset >= until) break;
      const place = <i32>((onset - at) * scale + 0.5);
      if (place <= 0 || place > inner) continue;
      mask |= 1 << (place - 1);
      if (gains != 0) alike += load<f64>(gainsAt + (<usize>place << 3));
    }
    const bits = <i32>load<u8>(p.bits + mask);
    worth += alike + p.patternWeight * (double(p.patterns, mask) - <f64>bits * yes - <f64>(inner - bits) * no);
  }
  return worth + mostRhythm < enough ? -Infinity : worth + rhythm(from, to, parts, enough - worth);
}

/**
 * The most that beats from place to place can be worth by how they are filled, divided into one to four, for a step of
 * how crowded they are and at most so many onsets: a quadruple, made when it is first asked for.
 */
function mostFilled(p: PathSearch, crowd: i32, bits: i32): usize {
  const one = crowd * p.parts + bits;
  const at = p.crowds + (<usize>one << 5);
  if (load<u8>(p.crowdsKnown + one)) return at;
  store<u8>(p.crowdsKnown + one, 1);
  const fullest = <i32>(0.9 * <f64>p.steps);
  for (let k = 1; k <= 4; k++) {
    const fine = <f64>p.steps / (CROWD * <f64>k);
    const last = crowd == CROWDS - 1 ? fullest : min(fullest, <i32>(<f64>(crowd + 1) * fine));
    let most: f64 = -Infinity;
    for (let step = min(last, <i32>(<f64>crowd * fine)); step <= last; step++)
      most = max(
        most,
        p.soundingWeight *
          (p.soundLog - double(p.lowLog, step) + <f64>(k - 1) * (p.silentLog - double(p.highRest, step))) +
          <f64>k * p.patternWeight * double(p.filled, step * p.parts + bits),
      );
    store<f64>(at + (<usize>(k - 1) << 3), most);
  }
  return at;
}

/** Fills in the least that the level costs for each step of length from place to place, divided into one to four. */
function leastOfLevel(p: PathSearch): void {
  const steps = <i32>Math.ceil(p.reach / WIDTH);
  for (let l = 0; l < steps; l++)
    for (let k = 1; k <= 4; k++) {
      const shortest = (<f64>l * WIDTH) / <f64>k;
      const longest = (<f64>(l + 1) * WIDTH) / <f64>k;
      let least: f64 = Infinity;
      // Two or more beats between two places are never longer or shorter than any may be.
      if (k == 1 || (shortest <= p.longest && longest >= p.shortest)) {
        const low = l == 0 ? 0 : max(0, binAt(p, log(shortest / p.shortest)) - 1);
        const high = min(p.bins - 1, binAt(p, log(longest / p.shortest)) + 1);
        for (let bin = low; bin <= high; bin++) least = min(least, double(p.levelLow, bin) * <f64>k);
      }
      store<f64>(p.lengths + (<usize>(4 * l + k - 1) << 3), least);
    }
}

/**
 * Which numbers of beats, one to four, from one place to another may be worth as much as `enough`, one bit each; what is
 * left out is not.
 */
// @ts-expect-error: decorator
@inline
function worthwhile(p: PathSearch, from: i32, to: i32, gap: f64, enough: f64): i32 {
  const first = whole(p.firstOnsets, from);
  const last = whole(p.firstOnsets, to);
  const crowd = ((double(p.rates, from) + double(p.rates, to)) * 0.5 * CROWD * gap) / <f64>p.parts;
  const filled = mostFilled(p, <i32>min(<f64>(CROWDS - 1), crowd), min(p.parts - 1, last - first));
  const level = p.lengths + (<usize>(<i32>(gap / WIDTH)) << 5);
  const least = f64x2.splat(
    enough - (double(p.mostRhythms, from) + double(p.gained, last) - double(p.gained, first)),
  );
  const one = f64x2.lt(f64x2.sub(v128.load(filled), v128.load(level)), least);
  const two = f64x2.lt(f64x2.sub(v128.load(filled + 16), v128.load(level + 16)), least);
  return 15 ^ (i64x2.bitmask(one) | (i64x2.bitmask(two) << 2));
}

/**
 * Lets the tempo of one place move: best of all tempi less the cost of the move, at most `leap`. What lies more than a leap
 * under the best is passed over, since a leap from the best is better.
 */
function spreadTempo(
  p: PathSearch,
  moved: usize,
  movedFrom: usize,
  best: f64,
  bestBin: i32,
  leap: f64,
): void {
  const bins = p.bins;
  const perBin = p.perMove;
  const leapt = best - leap;
  const all = f64x2.splat(leapt);
  const value = p.value;
  let low = 0;
  let high = bins;
  while (low < high && double(value, low) < leapt) low++;
  while (low < high && double(value, high - 1) < leapt) high--;
  for (let bin = 0; bin < bins; bin += 2) v128.store(moved + (<usize>bin << 3), all);
  for (let bin = 0; bin < bins; bin++) store<i16>(movedFrom + (<usize>bin << 1), bestBin);
  let run: f64 = -Infinity;
  let source = 0;
  for (let bin = low; bin < bins; bin++) {
    run -= perBin;
    if (bin < high) {
      const v = double(value, bin);
      if (v >= run) {
        run = v;
        source = bin;
      }
    } else if (run < leapt) break;
    if (run < leapt) continue;
    store<f64>(moved + (<usize>bin << 3), run);
    store<i16>(movedFrom + (<usize>bin << 1), source);
  }
  run = -Infinity;
  source = 0;
  for (let bin = high - 1; bin >= 0; bin--) {
    run -= perBin;
    if (bin >= low) {
      const v = double(value, bin);
      if (v >= run) {
        run = v;
        source = bin;
      }
    } else if (run < leapt) break;
    const to = moved + (<usize>bin << 3);
    if (run > load<f64>(to)) {
      store<f64>(to, run);
      store<i16>(movedFrom + (<usize>bin << 1), source);
    }
  }
}

/** Tries the ways from one place to another, divided into `parts`: raises the values there and says the highest. */
// @ts-expect-error: decorator
@inline
function raised(
  p: PathSearch,
  from: usize,
  bin: i32,
  base: f64,
  parts: i32,
  way: i32,
  came: usize,
  highest: f64,
): f64 {
  let top = highest;
  const high = min(p.bins - 1, bin + p.band);
  const perJitter = p.perJitter;
  const levelCost = p.levelCost;
  const value = p.value;
  for (let b = max(0, bin - p.band); b <= high; b++) {
    const v =
      double(from, b) + base - <f64>abs(b - bin) * perJitter - double(levelCost, b) * <f64>parts;
    const to = value + (<usize>b << 3);
    if (v > load<f64>(to)) {
      store<f64>(to, v);
      store<i32>(came + (<usize>b << 2), way);
      if (v > top) top = v;
    }
  }
  return top;
}

/** Finds the best ways to one place, when those to all before it are known. */
function reach(p: PathSearch, j: i32, lastMust: i32): void {
  const bins = p.bins;
  const time = double(p.times, j);
  const score = double(p.scores, j);
  const mustBe = load<u8>(p.must + j) != 0;
  const leap: f64 = j == p.freeAt ? 0 : p.leap;
  const came = p.cameFrom + <usize>(j * bins) * 4;
  const silence = j > 0 ? time - double(p.times, j - 1) + p.slight : 0;
  let top: f64 = -Infinity;
  const value = p.value;
  const end = value + <usize>bins * 8;
  for (let at = value; at < end; at += 16) v128.store(at, f64x2.splat(-Infinity));
  memory.fill(came, 255, <usize>bins * 4);
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
    // Beats in one silence may be more than four, and between set ones there is no choice.
    let likely = -1;
    if (!forced && gap < p.reach && (p.held <= p.most || gap * 0.75 > silence)) {
      likely = worthwhile(
        p, i, j, gap, top - leap - p.slight - (double(p.tops, i) + p.aside + score),
      );
      if (likely == 0) {
        if (here) break;
        continue;
      }
    }
    const free = max(p.most, <i32>Math.ceil(gap / p.longest));
    const most = max(p.held, free);
    const length = log(gap / p.shortest);
    for (let parts = 1; parts <= most; parts++) {
      const interval = gap / <f64>parts;
      if (parts > free && gap - interval > silence) break;
      if (interval > p.longest && parts > 1) continue;
      if (interval < p.shortest && !(forced && parts == 1)) break;
      if ((likely & (1 << (parts - 1))) == 0) continue;
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
      top = raised(p, from, bin, gain + worth, parts, i * 64 + min(63, parts), came, top);
    }
    if (here) break;
  }
  if (mustBe && top == -Infinity) {
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
  let mosts = f64x2.splat(-Infinity);
  for (let at = value; at < end; at += 16) mosts = f64x2.pmax(mosts, v128.load(at));
  const most = max(f64x2.extract_lane(mosts, 0), f64x2.extract_lane(mosts, 1));
  let mostBin = 0;
  if (most > -Infinity) while (double(value, mostBin) < most) mostBin++;
  store<f64>(p.tops + (<usize>j << 3), most);
  store<i16>(p.topBins + (<usize>j << 1), mostBin);
  const row = <usize>(j * bins);
  spreadTempo(p, p.moved + row * 8, p.movedFrom + row * 2, most, mostBin, leap);
}

/**
 * The dynamic programming of `findPath` (shared/hear/beats/path.ts), with the same sums in the same order:
 * fills `tops`, `topBins`, `cameFrom` and `movedFrom`, from which the path is read. Place by place, so that the machine
 * can go over to quicker code on the way.
 */
export function searchPath(at: usize): void {
  const p = changetype<PathSearch>(at);
  memory.fill(p.crowdsKnown, 0, <usize>(CROWDS * p.parts));
  leastOfLevel(p);
  let lastMust = -1;
  for (let j = 0; j < p.places; j++) {
    reach(p, j, lastMust);
    if (load<u8>(p.must + j)) lastMust = j;
  }
}
