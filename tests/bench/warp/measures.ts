import { RealFft } from '../../../shared/math/fft.ts';
import type { Decibels, Hertz, Samples } from '../../../shared/math/units.ts';
import { hann } from '../../../shared/math/window.ts';
import type { Audio } from '../../../shared/take/audio.ts';

/** Figures of one result beside its ideal. */
export interface Figures {
  stft: number;
  mel: number;
  timing: number[];
  anchored: boolean[];
  sharpness: number[];
  preEcho: number[];
  cents: number[];
  /** Which attack each of the above figures belongs to. */
  where: number[];
}

/** Both channels in one: what is measured is the sum of the two. */
export function mono(audio: Audio): Float64Array {
  const { channels } = audio;
  const out = new Float64Array(channels[0].length);
  for (const channel of channels)
    for (let i = 0; i < out.length; i++) out[i] += channel[i] / channels.length;
  return out;
}

/** How magnitudes are compared: mel bands, and how far below the ideal's loudest they still count. */
export interface Reading {
  readonly melBands: number;
  readonly floor: Decibels;
  readonly held: HeldReading;
}

/** Which partials count as held, and how their pitch is read. */
export interface HeldReading {
  /** Of frames; what holds on is looked at half a frame before and after. */
  readonly size: Samples;
  /** Over which phases move. */
  readonly step: Samples;
  /** Power (dB) below the frame's strongest partial down to which one counts. */
  readonly span: Decibels;
  /** Most by which its level moves. */
  readonly level: Decibels;
  readonly lowest: Hertz;
  /** Whether frames with an attack in them are left out. */
  readonly clear: boolean;
}

const fine: Reading = {
  melBands: 64,
  floor: -60,
  held: { size: 4096, step: 220, span: -30, level: 3, lowest: 50, clear: false },
};

/** Compares a result with its ideal by every measure. */
export function compare(
  result: Float64Array,
  ideal: Float64Array,
  attacks: readonly { at: Samples; anchored: boolean }[],
  rate: number,
  reading = fine,
): Figures {
  const { stft, mel } = magnitudeDistance(result, ideal, rate, reading);
  const figures: Figures = {
    stft,
    mel,
    timing: [],
    anchored: [],
    sharpness: [],
    preEcho: [],
    where: [],
    cents: heldCents(result, ideal, attacks, rate, reading.held),
  };
  const envelopes = {
    result: envelope(result, attacks, rate),
    ideal: envelope(ideal, attacks, rate),
  };
  for (let i = 0; i < attacks.length; i++) {
    const { at, anchored } = attacks[i];
    const after = attacks[i + 1]?.at ?? Number.POSITIVE_INFINITY;
    const before = attacks[i - 1]?.at ?? Number.NEGATIVE_INFINITY;
    const found = attackFigures(
      envelopes.result,
      envelopes.ideal,
      at / envelopes.ideal.hop,
      (before + 0.02 * rate) / envelopes.ideal.hop,
      (after - 0.002 * rate) / envelopes.ideal.hop,
      rate,
    );
    if (!found) continue;
    figures.where.push(i);
    figures.timing.push(found.timing);
    figures.sharpness.push(found.sharpness);
    figures.anchored.push(anchored);
    const echo = preEcho(result, ideal, at, before, rate);
    if (echo !== undefined) figures.preEcho.push(echo);
  }
  return figures;
}

/**
 * Mean distance of magnitudes in dB over bins of 2048-point frames within some dB of the ideal's loudest,
 * floored there; and the same over mel bands (Slaney's scale by formula of HTK, from memory).
 */
function magnitudeDistance(
  result: Float64Array,
  ideal: Float64Array,
  rate: number,
  reading: Reading,
): { stft: number; mel: number } {
  const size = 2048;
  const hop = 512;
  const fft = new RealFft(size);
  const window = hann(size);
  const bands = melFilters(reading.melBands, size, rate);
  const powerOf = (signal: Float64Array): Float64Array[] => {
    const frames: Float64Array[] = [];
    const frame = new Float64Array(size);
    const re = new Float64Array(fft.bins);
    const im = new Float64Array(fft.bins);
    for (let first = 0; first + size <= signal.length; first += hop) {
      for (let i = 0; i < size; i++) frame[i] = signal[first + i] * window[i];
      fft.forward(frame, re, im);
      const power = new Float64Array(fft.bins);
      for (let k = 0; k < fft.bins; k++) power[k] = re[k] * re[k] + im[k] * im[k];
      frames.push(power);
    }
    return frames;
  };
  const a = powerOf(result);
  const b = powerOf(ideal);
  const distance = (x: Float64Array[], y: Float64Array[]): number => {
    let top = 0;
    for (const frame of y) for (const p of frame) if (p > top) top = p;
    const floor = top * 10 ** (reading.floor / 10);
    let sum = 0;
    let n = 0;
    for (let f = 0; f < y.length; f++)
      for (let k = 0; k < y[f].length; k++) {
        if (y[f][k] < floor && x[f][k] < floor) continue;
        sum += Math.abs(10 * Math.log10(Math.max(floor, x[f][k]) / Math.max(floor, y[f][k])));
        n++;
      }
    return sum / Math.max(1, n);
  };
  const toMel = (frames: Float64Array[]): Float64Array[] =>
    frames.map((frame) =>
      Float64Array.from(bands, ({ first, weights }) => {
        let sum = 0;
        for (let i = 0; i < weights.length; i++) sum += frame[first + i] * weights[i];
        return sum;
      }),
    );
  return { stft: distance(a, b), mel: distance(toMel(a), toMel(b)) };
}

interface MelFilter {
  readonly first: number;
  readonly weights: Float64Array;
}

/** Triangles that overlap by half, 30 Hz to 16 kHz, those without a bin left out (The HTK Book, section 5.4). */
function melFilters(count: number, size: number, rate: number): MelFilter[] {
  const mel = (f: number): number => 2595 * Math.log10(1 + f / 700);
  const low = mel(30);
  const high = mel(Math.min(16000, rate / 2));
  const edge = (m: number): number =>
    (700 * (10 ** ((low + ((high - low) * m) / (count + 1)) / 2595) - 1) * size) / rate;
  return Array.from({ length: count }, (_, m) => {
    const [a, b, c] = [edge(m), edge(m + 1), edge(m + 2)];
    const first = Math.ceil(a);
    const weights = Float64Array.from({ length: Math.max(0, Math.floor(c) - first + 1) }, (_, i) =>
      Math.max(0, Math.min((first + i - a) / (b - a), (c - first - i) / (c - b))),
    );
    return { first, weights };
  }).filter(({ weights }) => weights.some((w) => w > 0));
}

interface Envelope {
  readonly hop: Samples;
  readonly rise: Float64Array;
}

/** Positive flux of the compressed magnitudes of 5.8 ms frames, every 0.73 ms, near the attacks only. */
function envelope(
  signal: Float64Array,
  attacks: readonly { at: Samples }[],
  rate: number,
): Envelope {
  const size = 256;
  const hop = 32;
  const lag = 4;
  const fft = new RealFft(size);
  const window = hann(size);
  const frame = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const count = Math.floor(signal.length / hop);
  const width = fft.bins;
  const ring = Array.from({ length: lag + 1 }, () => new Float64Array(width));
  const rise = new Float64Array(count);
  const reach = Math.ceil((0.05 * rate) / hop);
  const wanted = new Uint8Array(count);
  for (const { at } of attacks)
    wanted.fill(1, Math.max(0, Math.round(at / hop) - reach), Math.round(at / hop) + reach);
  let run = 0;
  for (let f = 0; f < count; f++) {
    if (!wanted[f]) {
      run = 0;
      continue;
    }
    const first = f * hop - size / 2;
    for (let i = 0; i < size; i++) frame[i] = (signal[first + i] ?? 0) * window[i];
    fft.forward(frame, re, im);
    const now = ring[f % (lag + 1)];
    for (let k = 0; k < width; k++)
      now[k] = 0.5 * Math.log1p(1e6 * (re[k] * re[k] + im[k] * im[k]));
    if (run++ < lag) continue;
    const then = ring[(f + 1) % (lag + 1)];
    let sum = 0;
    for (let k = 1; k < width; k++) if (now[k] > then[k]) sum += now[k] - then[k];
    rise[f] = sum;
  }
  return { hop, rise };
}

/** Where an attack came (ms, absolute) and how sharply, by its flux beside that of the ideal. */
function attackFigures(
  result: Envelope,
  ideal: Envelope,
  at: number,
  before: number,
  after: number,
  rate: number,
): { timing: number; sharpness: number } | undefined {
  const ms = rate / 1000 / ideal.hop;
  const from = Math.round(Math.max(at - 8 * ms, before));
  const to = Math.round(Math.min(at + 22 * ms, after));
  if (to - from < 8 * ms) return undefined;
  let top = 0;
  let mean = 0;
  for (let i = from; i < to; i++) {
    top = Math.max(top, ideal.rise[i] ?? 0);
    mean += (ideal.rise[i] ?? 0) / (to - from);
  }
  // What does not stand out in the ideal (under another sound) can't be timed.
  if (top < 15 || top < 1.8 * mean) return undefined;
  const reach = Math.round(25 * ms);
  let best = -1;
  let lag = 0;
  const score: number[] = [];
  for (let d = -reach; d <= reach; d++) {
    let dot = 0;
    let xx = 0;
    let yy = 0;
    for (let i = from; i < to; i++) {
      const x = result.rise[i + d] ?? 0;
      const y = ideal.rise[i] ?? 0;
      dot += x * y;
      xx += x * x;
      yy += y * y;
    }
    const s = xx > 0 ? dot / Math.sqrt(xx * yy) - 0.002 * Math.abs(d / ms) : 0;
    score.push(s);
    if (s > best) {
      best = s;
      lag = d;
    }
  }
  const l = score[lag + reach - 1] ?? best;
  const r = score[lag + reach + 1] ?? best;
  const bend = l - 2 * best + r;
  const fine = bend < 0 ? (0.5 * (l - r)) / bend : 0;
  let sharp = 0;
  for (let i = from; i < to; i++) sharp = Math.max(sharp, result.rise[i + lag] ?? 0);
  return { timing: Math.abs(lag + fine) / ms, sharpness: sharp / top };
}

/** Level of the 20 to 2 ms before an attack over that of the ideal, in dB, where something sounds. */
function preEcho(
  result: Float64Array,
  ideal: Float64Array,
  at: Samples,
  before: Samples,
  rate: number,
): number | undefined {
  const from = Math.max(0, Math.round(at - 0.02 * rate));
  const to = Math.round(at - 0.002 * rate);
  if (from < before + 0.02 * rate || to <= from) return undefined;
  let x = 1e-9;
  let y = 1e-9;
  for (let i = from; i < to; i++) {
    x += result[i] ** 2;
    y += ideal[i] ** 2;
  }
  return 10 * Math.log10(x / y);
}

/**
 * Distance in cents of partials that hold on in the ideal, from phase moves over a step. A partial holds on
 * if it is a peak of a frame and half a frame before and after has the same frequency to 5 cents and about the
 * same level: else new notes and beating ones count, whose phases' moves are no pitch.
 */
function heldCents(
  result: Float64Array,
  ideal: Float64Array,
  attacks: readonly { at: Samples }[],
  rate: number,
  { size, step, span, level, lowest, clear }: HeldReading,
): number[] {
  const hop = size / 2;
  const least = Math.ceil((lowest * size) / rate);
  const most = Math.floor((4307 * size) / rate);
  const bins = most + 10;
  const fft = new RealFft(size);
  const window = hann(size);
  const make = () => ({ re: new Float64Array(fft.bins), im: new Float64Array(fft.bins) });
  const frame = new Float64Array(size);
  const [a, b] = [make(), make()];
  const wrap = (p: number): number => p - 2 * Math.PI * Math.round(p / (2 * Math.PI));
  const look = (
    signal: Float64Array,
    first: number,
  ): { power: Float64Array; hertz: Float64Array } => {
    for (let i = 0; i < size; i++) frame[i] = (signal[first + i] ?? 0) * window[i];
    fft.forward(frame, a.re, a.im);
    for (let i = 0; i < size; i++) frame[i] = (signal[first + step + i] ?? 0) * window[i];
    fft.forward(frame, b.re, b.im);
    const power = new Float64Array(bins);
    const hertz = new Float64Array(bins);
    for (let k = 0; k < bins; k++) {
      power[k] = a.re[k] ** 2 + a.im[k] ** 2;
      const nominal = (2 * Math.PI * k * step) / size;
      const moved = Math.atan2(b.im[k], b.re[k]) - Math.atan2(a.im[k], a.re[k]);
      hertz[k] = ((nominal + wrap(moved - nominal)) * rate) / (2 * Math.PI * step);
    }
    return { power, hertz };
  };
  const cents = (f: number, g: number): number =>
    f > 0 && g > 0 ? Math.abs(1200 * Math.log2(g / f)) : Number.POSITIVE_INFINITY;
  const out: number[] = [];
  let before = look(ideal, 0);
  let now = look(ideal, hop);
  for (let first = hop; first + hop + size + step < ideal.length; first += hop) {
    const after = look(ideal, first + hop);
    const { power, hertz } = now;
    let top = 0;
    for (let k = Math.ceil((50 * size) / rate); k < most; k++) top = Math.max(top, power[k]);
    const held: number[] = [];
    const struck = clear && attacks.some(({ at }) => at > first && at < first + size + step);
    for (let k = least; k < most && top >= 1 && !struck; k++) {
      const p = power[k];
      if (p < top * 10 ** (span / 10)) continue;
      if (p < power[k - 1] || p < power[k + 1] || p < power[k - 2] || p < power[k + 2]) continue;
      const steady = [before, after].every(
        (o) => cents(o.hertz[k], hertz[k]) < 5 && Math.abs(10 * Math.log10(o.power[k] / p)) < level,
      );
      if (steady && Math.abs(hertz[k] - (k * rate) / size) < rate / size) held.push(k);
    }
    if (held.length > 0) {
      const found = look(result, first);
      for (const k of held) if (found.hertz[k] > 0) out.push(cents(hertz[k], found.hertz[k]));
    }
    before = now;
    now = after;
  }
  return out;
}

/** The value below which a share of the figures lies. */
export function quantile(values: readonly number[], share: number): number {
  if (values.length === 0) return Number.NaN;
  const sorted = [...values].sort((a, b) => a - b);
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  const high = Math.min(sorted.length - 1, low + 1);
  return sorted[low] + (sorted[high] - sorted[low]) * (at - low);
}
