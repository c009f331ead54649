import type { Cents, Hertz, Samples, Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { Chance } from './chance.ts';
import type { PedalStroke, PlayedNote } from './played.ts';

/**
 * Simple sounds of our own for machines without a sound bank: struck (decaying partials and a knock),
 * plucked (Karplus and Strong 1983), bowed and blown (harmonics that swell, with noise), brushed
 * (noise). Every note starts exactly at its sample; what is audible of it may come later.
 */
export function renderPlain(
  notes: readonly PlayedNote[],
  pedal: readonly PedalStroke[],
  seconds: Seconds,
  cents: Cents,
  sampleRate: Hertz = 44100,
): { audio: Audio; starts: Samples[] } {
  const length = Math.round(seconds * sampleRate);
  const left = new Float32Array(length);
  const right = new Float32Array(length);
  const starts = notes.map((note, index) => {
    const start = Math.round(note.time * sampleRate);
    const release = releaseOf(note, pedal);
    const tone = plainNote(note, release - note.time, cents, sampleRate, index + 1);
    const pan = note.part === 'bass' ? 0.5 : note.part === 'drums' ? 0.6 : 0.3 + note.pitch / 250;
    const toLeft = Math.cos((pan * Math.PI) / 2);
    const toRight = Math.sin((pan * Math.PI) / 2);
    const end = Math.min(length, start + tone.length);
    for (let i = start; i < end; i++) {
      left[i] += tone[i - start] * toLeft;
      right[i] += tone[i - start] * toRight;
    }
    return start;
  });
  return { audio: { sampleRate, channels: [left, right] }, starts };
}

function releaseOf(note: PlayedNote, pedal: readonly PedalStroke[]): Seconds {
  const end = note.time + note.seconds;
  if (note.instrument.attack !== 'struck') return end;
  const held = pedal.find((stroke) => stroke.down <= end && stroke.up > end);
  return held ? held.up : end;
}

/** One lone note from its first sample; `held` is how long until it is let go. */
export function plainNote(
  note: Pick<PlayedNote, 'pitch' | 'velocity' | 'instrument'>,
  held: Seconds,
  cents: Cents,
  sampleRate: Hertz,
  seed: number,
): Float32Array {
  const { attack, drums } = note.instrument;
  const chance = new Chance(seed);
  const loud = 0.25 * (note.velocity / 127) ** 1.9;
  const hertz = 440 * 2 ** ((note.pitch - 69) / 12 + cents / 1200);
  if (drums) return struckNoise(chance, note.pitch, loud, sampleRate);
  if (attack === 'plucked') return plucked(chance, hertz, loud, held, sampleRate);
  return attack === 'struck'
    ? struck(chance, hertz, loud, held, sampleRate)
    : sustained(chance, hertz, loud, held, sampleRate, attack === 'bowed');
}

function struck(
  chance: Chance,
  hertz: Hertz,
  loud: number,
  held: Seconds,
  rate: Hertz,
): Float32Array {
  const tail = 0.12;
  const tone = new Float32Array(Math.ceil((Math.min(held, 6) + tail) * rate));
  const stretch = 0.0003;
  const soft = 1.1 + 1.2 * (1 - Math.sqrt(loud * 4));
  for (let n = 1; n <= 14; n++) {
    const f = n * hertz * Math.sqrt(1 + stretch * n * n);
    if (f > 0.45 * rate) break;
    const decay = (2.2 + hertz / 300) * (0.6 + 0.35 * n);
    addPartial(tone, f / rate, (loud / n ** soft) * chance.between(0.6, 1.2), decay / rate, chance);
  }
  const knock = Math.round(0.006 * rate);
  for (let i = 0; i < knock; i++) {
    tone[i] += loud * 0.25 * chance.normal(0, 1) * (1 - i / knock) ** 2;
  }
  return shaped(tone, Math.round(0.0015 * rate), held, tail, rate);
}

/** A decaying sine by a rotating phasor. */
function addPartial(
  tone: Float32Array,
  cyclesPerSample: number,
  level: number,
  decayPerSample: number,
  chance: Chance,
): void {
  const angle = 2 * Math.PI * cyclesPerSample;
  const shrink = Math.exp(-decayPerSample);
  const c = Math.cos(angle) * shrink;
  const s = Math.sin(angle) * shrink;
  const phase = chance.between(0, 2 * Math.PI);
  let re = level * Math.cos(phase);
  let im = level * Math.sin(phase);
  for (let i = 0; i < tone.length; i++) {
    tone[i] += im;
    const next = re * c - im * s;
    im = re * s + im * c;
    re = next;
  }
}

function plucked(
  chance: Chance,
  hertz: Hertz,
  loud: number,
  held: Seconds,
  rate: Hertz,
): Float32Array {
  const tone = new Float32Array(Math.ceil((Math.min(held, 5) + 0.15) * rate));
  const period = rate / hertz - 0.5;
  const whole = Math.floor(period);
  const share = period - whole;
  // First-order allpass for the fraction of a sample (Jaffe and Smith 1983).
  const allpass = (1 - share) / (1 + share);
  const string = new Float32Array(whole);
  let smooth = 0;
  for (let i = 0; i < string.length; i++) {
    smooth += 0.5 * (chance.between(-1, 1) - smooth);
    string[i] = smooth;
  }
  const mean = string.reduce((sum, x) => sum + x, 0) / string.length;
  let before = 0;
  let held1 = 0;
  let out1 = 0;
  for (let i = 0, at = 0; i < tone.length; i++) {
    const x = string[at] - (i < string.length ? mean : 0);
    tone[i] = x * loud * 2.5;
    const low = 0.4985 * (x + before);
    before = x;
    const out = allpass * low + held1 - allpass * out1;
    held1 = low;
    out1 = out;
    string[at] = out;
    at = (at + 1) % string.length;
  }
  return shaped(tone, Math.round(0.001 * rate), held, 0.12, rate);
}

function sustained(
  chance: Chance,
  hertz: Hertz,
  loud: number,
  held: Seconds,
  rate: Hertz,
  bowed: boolean,
): Float32Array {
  const tail = bowed ? 0.15 : 0.07;
  const tone = new Float32Array(Math.ceil((held + tail) * rate));
  const level = loud * 0.8;
  const vibrato = bowed ? 0.004 : 0.0015;
  let phase = 0;
  let breath = 0;
  const phases = Math.min(10, Math.floor((0.4 * rate) / hertz));
  const levels = Array.from({ length: phases }, (_, n) =>
    bowed ? 1 / (n + 1) : (n % 2 ? 0.3 : 1) / (n + 1) ** 1.3,
  );
  for (let i = 0; i < tone.length; i++) {
    const t = i / rate;
    phase += (hertz / rate) * (1 + vibrato * Math.min(1, t * 2) * Math.sin(2 * Math.PI * 5.3 * t));
    let x = 0;
    for (let n = 0; n < phases; n++) x += levels[n] * Math.sin(2 * Math.PI * (n + 1) * phase);
    breath += 0.3 * (chance.between(-1, 1) - breath);
    tone[i] = level * (x + breath * (bowed ? 0.05 : 0.15));
  }
  const rise = (bowed ? 0.07 : 0.03) * (1.3 - loud * 2);
  return shaped(tone, Math.round(rise * rate), held, tail, rate);
}

function struckNoise(chance: Chance, key: number, loud: number, rate: Hertz): Float32Array {
  const kick = key === 36;
  const long = key === 51;
  const brush = key === 40;
  const seconds = kick ? 0.25 : long ? 0.8 : brush ? 0.2 : 0.09;
  const tone = new Float32Array(Math.round(seconds * rate));
  let low = 0;
  let phase = 0;
  const keep = key === 38 || brush ? 0.5 : 0.9;
  for (let i = 0; i < tone.length; i++) {
    const t = i / rate;
    const noise = chance.between(-1, 1);
    low += (1 - keep) * (noise - low);
    phase += (55 + 90 * Math.exp(-t * 40)) / rate;
    const body = kick ? 2.5 * Math.sin(2 * Math.PI * phase) : brush ? low : noise - low;
    tone[i] = loud * body * Math.exp((-t * 5) / seconds);
  }
  return shaped(tone, Math.round((brush ? 0.006 : 0.0005) * rate), seconds, 0, rate);
}

/** A rise (a quarter of a cosine, squared) and, once let go, a fall. */
function shaped(
  tone: Float32Array,
  rise: Samples,
  held: Seconds,
  tail: Seconds,
  rate: Hertz,
): Float32Array {
  for (let i = 0; i < Math.min(rise, tone.length); i++) {
    tone[i] *= Math.sin((Math.PI / 2) * (i / rise)) ** 2;
  }
  const from = Math.round(held * rate);
  for (let i = from; i < tone.length; i++) {
    tone[i] *= Math.max(0, 1 - (i - from) / (tail * rate)) ** 2;
  }
  return tone;
}
