import { fromBase64 } from './base64.ts';
import { KERNEL_BYTES } from './kernel-bytes.ts';

/** An address in the kernels' memory, in bytes. */
type Address = number;

/**
 * What `kernels/` exports: inner loops that handle four numbers at once (WebAssembly SIMD). Each has a
 * plain counterpart in TypeScript, which is its reference in the tests and runs where SIMD is missing.
 */
export interface Kernels {
  readonly memory: WebAssembly.Memory;
  powersOfEight(
    frames: Address,
    window: Address,
    table: Address,
    size: number,
    work: Address,
    first: number,
    end: number,
    out: Address,
  ): void;
  bandsOfEight(powers: Address, edges: Address, bands: number, scale: number, to: Address): void;
  logarithms(x: Address, count: number, gain: number): void;
  largest(x: Address, count: number): number;
  fluxes(
    power: Address,
    width: number,
    first: number,
    end: number,
    memory: number,
    gamma: number,
    columns: number,
    bandOf: Address,
    shares: Address,
    all: Address,
    bands: number,
    ofBands: Address,
    room: number,
  ): void;
  neighboursSummed(power: Address, count: number, reach: number, sums: Address): void;
  fallsTaken(job: Address): void;
  newSound(before: Address, after: Address, count: number): number;
  likeness(a: Address, b: Address, count: number): number;
  bandLevels(
    power: Address,
    width: number,
    rows: number,
    from: number,
    to: number,
    mean: number,
    sums: Address,
    levels: Address,
  ): void;
  fluxPeaks(
    flux: Address,
    count: number,
    first: number,
    end: number,
    near: number,
    around: number,
    least: number,
    floor: number,
    over: number,
    out: Address,
  ): number;
  firstRise(power: Address, width: number, from: number, to: number): number;
  meanPowers(
    power: Address,
    width: number,
    rows: number,
    split: Address,
    bands: number,
    out: Address,
  ): void;
  levelLine(
    power: Address,
    width: number,
    rows: number,
    first: number,
    from: number,
    to: number,
    calm: number,
    line: Address,
  ): void;
  dot(a: Address, b: Address, n: number): number;
  energies(x: Address, n: number, blocks: number, out: Address): void;
  samplesOf16(bytes: Address, step: number, count: number, out: Address): void;
  samplesOf24(bytes: Address, step: number, count: number, out: Address): void;
  samplesOfFloats(bytes: Address, step: number, count: number, out: Address): number;
  samplesTo16(x: Address, count: number, dither: Address, step: number, bytes: Address): void;
  samplesTo24(x: Address, count: number, dither: Address, step: number, bytes: Address): void;
  samplesToFloats(x: Address, count: number, step: number, bytes: Address): void;
  mixed(a: Address, b: Address, gainA: number, gainB: number, count: number, out: Address): void;
  filtered(
    x: Address,
    down: number,
    taps: Address,
    n: number,
    out: Address,
    up: number,
    count: number,
  ): void;
  halved(
    x: Address,
    middle: number,
    taps: Address,
    n: number,
    work: Address,
    out: Address,
    count: number,
  ): void;
  pairsWithoutHarmony(
    measures: Address,
    room: number,
    sounds: number,
    n: number,
    reach: number,
    most: number,
    rhythm: number,
    sound: number,
    out: Address,
    stride: number,
  ): void;
  pairsLedTo(
    fresh: Address,
    room: number,
    n: number,
    reach: number,
    turn: number,
    harmony: number,
    keep: number,
    skip: number,
    plain: Address,
    worth: Address,
    before: Address,
    stride: number,
    turned: Address,
  ): void;
  pairsFollowed(
    n: number,
    reach: number,
    cost: number,
    keep: number,
    skip: number,
    worth: Address,
    before: Address,
    best: Address,
    stride: number,
    next: Address,
  ): void;
  exponentials(x: Address, count: number, scale: number, out: Address): void;
  likenesses(
    measures: Address,
    room: number,
    shapes: number,
    weights: Address,
    colours: number,
    sharp: number,
    i: number,
    from: number,
    count: number,
    out: Address,
  ): void;
  blockMaxima(x: Address, blocks: number, out: Address): void;
  peakBetween(
    x: Address,
    maxima: Address,
    blocks: number,
    taps: Address,
    n: number,
    phases: number,
    middle: number,
    rest: number,
    peak: number,
  ): number;
  weighedEnergies(
    left: Address,
    right: Address,
    count: number,
    coefficients: Address,
    state: Address,
    out: Address,
  ): void;
  framePowers(
    left: Address,
    right: Address,
    frames: number,
    hop: number,
    window: Address,
    size: number,
    re: Address,
    im: Address,
    workRe: Address,
    workIm: Address,
    turns: Address,
    edges: Address,
    bands: number,
    sums: Address,
  ): void;
  promoted(floats: Address, count: number, to: Address): void;
  demoted(doubles: Address, count: number, to: Address): void;
  doublesAdded(doubles: Address, count: number, sums: Address): void;
  squaresAdded(floats: Address, count: number, sums: Address): void;
  products(x: Address, by: Address, count: number, out: Address): void;
  productsAdded(x: Address, by: Address, count: number, sums: Address): void;
  windowed(
    x: Address,
    y: Address,
    window: Address,
    size: number,
    re: Address,
    im: Address,
    workRe: Address,
    workIm: Address,
    turns: Address,
  ): void;
  overlapped(
    xr: Address,
    xi: Address,
    re: Address,
    im: Address,
    workRe: Address,
    workIm: Address,
    turns: Address,
    size: number,
    window: Address,
    low: number,
    high: number,
    sumRe: Address,
    sumIm: Address,
  ): void;
  strongPeaks(
    power: Address,
    bins: number,
    first: number,
    end: number,
    share: number,
    out: Address,
  ): number;
  turnBetween(
    power: Address,
    from: Address,
    to: Address,
    pairs: number,
    size: number,
    k: number,
    least: number,
    most: number,
    outRe: Address,
    outIm: Address,
  ): void;
  sidesAdded(spectrum: Address, size: number, side: number, sum: Address): void;
  heldGains(job: Address): number;
  turnsRaised(turns: Address, bins: number, gains: Address, count: number): void;
  passTurns(size: number, out: Address): void;
  rampTurns(turns: Address, size: number, fraction: number): void;
  turned(spectrum: Address, size: number, turns: Address, to: Address): void;
  pairPowers(spectra: Address, pairs: number, size: number, power: Address): void;
  phasesLocked(
    power: Address,
    pairs: number,
    size: number,
    from: Address,
    now: Address,
    later: Address,
    written: Address,
    turns: Address,
    first: number,
    end: number,
    faint: number,
    least: number,
    most: number,
    quietest: number,
    loudest: number,
  ): void;
  noiseStirred(
    job: Address,
    power: Address,
    turns: Address,
    bins: number,
    spread: number,
    lost: number,
    seed: number,
  ): void;
  noiseLowered(job: Address, turns: Address, bins: number): void;
  added(x: Address, count: number, sums: Address): void;
  floatsAdded(x: Address, by: Address, count: number, sums: Address): void;
  inverted(x: Address, count: number, floor: number): void;
  allReach(x: Address, count: number, least: number): number;
  floatsOfProducts(x: Address, by: Address, count: number, out: Address): void;
  fadedOver(x: Address, by: Address, count: number, late: number, fade: number, out: Address): void;
  transform(
    re: Address,
    im: Address,
    workRe: Address,
    workIm: Address,
    turns: Address,
    size: number,
  ): void;
  together(a: Address, b: Address, count: number, step: number, sums: Address): void;
  scaled(bytes: Address, rows: number, n: number, steps: Address, out: Address): void;
  rowNorms(x: Address, rows: number, n: number, out: Address): void;
  peaksOfSums(
    x: Address,
    count: number,
    reach: number,
    rivals: number,
    least: number,
    mass: Address,
    found: Address,
  ): number;
  tuned(
    frequencies: Address,
    magnitudes: Address,
    count: number,
    highest: number,
    width: number,
    share: number,
    sums: Address,
  ): void;
  unpacked(digits: Address, count: number, out: Address): void;
  perceived(net: Address, x: Address): number;
  intervalOdds(
    onsets: Address,
    first: number,
    last: number,
    start: number,
    end: number,
    beats: number,
  ): number;
  hearCells(ear: Address, cells: number, out: Address): void;
  timeLooks(timer: Address, count: number, out: Address): void;
  searchPath(search: Address): void;
  tallied(
    weights: Address,
    others: Address,
    at: Address,
    count: number,
    places: number,
    tally: Address,
  ): void;
  rowSums(x: Address, rows: number, width: number, weights: Address, out: Address): void;
  weightsRefitted(job: Address): void;
  sumsOfEight(powers: Address, edges: Address, bands: number, out: Address): void;
  classesOfEight(powers: Address, of: Address, until: number, classes: number, out: Address): void;
  peaks(
    powers: Address,
    from: number,
    until: number,
    below: number,
    least: number,
    most: number,
    hertz: number,
    size: number,
    level: Address,
    out: Address,
  ): number;
  pitchClasses(
    frequencies: Address,
    magnitudes: Address,
    count: number,
    highest: number,
    width: number,
    share: number,
    a4: number,
    out: Address,
  ): void;
  repeatsAt(
    frames: Address,
    room: number,
    own: Address,
    step: number,
    n: number,
    least: number,
    keep: number,
    beyond: number,
    share: number,
    here: Address,
    back: Address,
    rows: Address,
    begins: Address,
    goesOn: Address,
  ): void;
}

/** What kernels ask back while they run: how much an interval's rhythm is worth (`searchPath`). */
export interface Asked {
  rhythm(from: number, to: number, parts: number, enough: number): number;
}

let compiled: WebAssembly.Module | null | undefined;
let made: Kernels | null | undefined;

/** The kernels, compiled at the first call; null where the machine has no WebAssembly SIMD. */
export function kernels(): Kernels | null {
  if (made === undefined) made = ownKernels();
  return made;
}

/** Kernels with a memory that nobody else uses; null where the machine has no WebAssembly SIMD. */
export function ownKernels(beats: Asked = { rhythm: () => 0 }): Kernels | null {
  if (compiled === null) return null;
  try {
    compiled ??= new WebAssembly.Module(fromBase64(KERNEL_BYTES));
    // The machine's own functions, so that kernels and plain forms agree to the last bit.
    const { cos, exp, log, log1p, log2, pow, sin } = Math;
    const imports = { math: { cos, exp, log, log1p, log2, pow, sin }, beats: { ...beats } };
    return new WebAssembly.Instance(compiled, imports).exports as unknown as Kernels;
  } catch {
    compiled = null;
    return null;
  }
}

/**
 * The kernels' memory for the length of one job: places are handed out from its start on, so two jobs
 * must not be under way at once. Views are asked for anew after each place, since memory that grows moves.
 */
export class KernelRoom {
  private end: Address = 1024;
  private readonly memory: WebAssembly.Memory;

  constructor({ memory }: Kernels) {
    this.memory = memory;
  }

  /** A place for that many bytes, with room to read on for a few. */
  place(bytes: number): Address {
    const at = this.end;
    this.end = (at + bytes + 64 + 15) & ~15;
    const missing = this.end - this.memory.buffer.byteLength;
    if (missing > 0) this.memory.grow(Math.ceil(missing / 65536));
    return at;
  }

  /** A place with these numbers in it, silence after them. */
  keep(values: ArrayLike<number>, padded = values.length): Address {
    const at = this.place(padded * 4);
    const view = this.floats(at, padded);
    view.fill(0);
    view.set(values);
    return at;
  }

  /** A place with these numbers in it, in double precision. */
  keepDoubles(values: ArrayLike<number>, padded = values.length): Address {
    const at = this.place(padded * 8);
    const view = this.doubles(at, padded);
    view.fill(0);
    view.set(values);
    return at;
  }

  keepBytes(values: ArrayLike<number>): Address {
    const at = this.place(values.length);
    this.bytes(at, values.length).set(values);
    return at;
  }

  /** A place with doubles in it and whole numbers or addresses behind them, as a kernel's own class has them. */
  keepJob(doubles: readonly number[], whole: readonly number[]): Address {
    const at = this.place(doubles.length * 8 + whole.length * 4);
    this.doubles(at, doubles.length).set(doubles);
    this.whole(at + doubles.length * 8, whole.length).set(whole);
    return at;
  }

  floats(at: Address, count: number): Float32Array<ArrayBuffer> {
    return new Float32Array(this.memory.buffer as ArrayBuffer, at, count);
  }

  whole(at: Address, count: number): Int32Array<ArrayBuffer> {
    return new Int32Array(this.memory.buffer as ArrayBuffer, at, count);
  }

  doubles(at: Address, count: number): Float64Array<ArrayBuffer> {
    return new Float64Array(this.memory.buffer as ArrayBuffer, at, count);
  }

  halves(at: Address, count: number): Int16Array<ArrayBuffer> {
    return new Int16Array(this.memory.buffer as ArrayBuffer, at, count);
  }

  bytes(at: Address, count: number): Uint8Array<ArrayBuffer> {
    return new Uint8Array(this.memory.buffer as ArrayBuffer, at, count);
  }
}
