import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { threadId } from 'node:worker_threads';
import { makeRandom } from '../../../shared/math/random.ts';
import { firstAudible } from '../../perform/fluid.ts';
import type { Instrument } from '../../perform/instruments.ts';
import { dry, putInto } from '../../perform/place.ts';
import { plainNote, renderPlain } from '../../perform/synthesis.ts';
import type { Lesson, LessonNote } from './lesson-music.ts';

export const RENDER_RATE = 44100;
/** fluidsynth takes events up at the start of a block of this many samples. */
const BLOCK = 64;
/** Where what was played is kept. */
export const LESSON_CACHE = 'node_modules/.cache/unclicked-lessons';

/** Shares of lessons that are bare tones, and that are played without a bank (tones included). */
const TONES = 0.1;
const OWN_SOUNDS = 0.22;

/** A note is audible from its first sample within 30 dB of the peak of its first 150 ms. */
const AUDIBLE = 10 ** (-30 / 20);

function variable(value: number): number[] {
  const bytes = [value & 127];
  for (let rest = value >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
}

interface MidiEvent {
  readonly time: number;
  readonly bytes: readonly number[];
}

/** A format 0 file of 30,000 ticks a second. */
function writeMidi(events: readonly MidiEvent[], path: string): void {
  const order = events.map((event, i) => ({ event, i }));
  order.sort((a, b) => a.event.time - b.event.time || a.i - b.i);
  const track = [0, 0xff, 0x51, 3, 0x0f, 0x42, 0x40];
  let now = 0;
  for (const { event } of order) {
    const tick = Math.round(event.time * 30000);
    for (const byte of variable(tick - now)) track.push(byte);
    for (const byte of event.bytes) track.push(byte);
    now = tick;
  }
  track.push(0, 0xff, 0x2f, 0);
  const header = Buffer.alloc(22);
  header.write('MThd', 0, 'latin1');
  header.writeUInt32BE(6, 4);
  header.writeUInt16BE(0, 8);
  header.writeUInt16BE(1, 10);
  header.writeUInt16BE(30000, 12);
  header.write('MTrk', 14, 'latin1');
  header.writeUInt32BE(track.length, 18);
  writeFileSync(path, Buffer.concat([header, Buffer.from(track)]));
}

function synthesise(
  font: string,
  events: readonly MidiEvent[],
  reverb: { level: number; size: number } | undefined,
): Float32Array[] {
  mkdirSync(LESSON_CACHE, { recursive: true });
  const midi = join(LESSON_CACHE, `lesson-${process.pid}-${threadId}.mid`);
  const wav = join(LESSON_CACHE, `lesson-${process.pid}-${threadId}.wav`);
  writeMidi(events, midi);
  const room = reverb
    ? [
        '-R',
        '1',
        '-o',
        `synth.reverb.level=${reverb.level}`,
        '-o',
        `synth.reverb.room-size=${reverb.size}`,
      ]
    : ['-R', '0'];
  const done = spawnSync('fluidsynth', [
    '-ni',
    ...room,
    '-C',
    '0',
    '-g',
    '0.5',
    '-r',
    String(RENDER_RATE),
    '-o',
    'synth.polyphony=512',
    '-O',
    'float',
    '-T',
    'wav',
    '-F',
    wav,
    font,
    midi,
  ]);
  if (done.status !== 0) throw new Error(`fluidsynth failed: ${done.stderr}`);
  const bytes = readFileSync(wav);
  rmSync(midi);
  rmSync(wav);
  let at = 12;
  while (bytes.toString('latin1', at, at + 4) !== 'data') at += 8 + bytes.readUInt32LE(at + 4);
  const frames = Math.floor((bytes.length - at - 8) / 8);
  const left = new Float32Array(frames);
  const right = new Float32Array(frames);
  for (let i = 0; i < frames; i++) {
    left[i] = bytes.readFloatLE(at + 8 + i * 8);
    right[i] = bytes.readFloatLE(at + 12 + i * 8);
  }
  return [left, right];
}

/**
 * fluidsynth's player looks at whole milliseconds, once a block: an event asked for at whole
 * millisecond `time` starts with the first block whose own time, cut to milliseconds, has reached it.
 */
function eventTime(time: number): { readonly asked: number; readonly start: number } {
  const wanted = Math.max(0, Math.round(time * 1000));
  let block = Math.max(0, Math.floor((wanted * RENDER_RATE) / (1000 * BLOCK)) - 2);
  while (Math.floor((1000 * BLOCK * block) / RENDER_RATE) < wanted) block++;
  return { asked: wanted / 1000, start: (block * BLOCK) / RENDER_RATE };
}

const programBytes = (channel: number, program: number): MidiEvent => ({
  time: 0,
  bytes: [0xc0 | channel, program],
});

/** How long after its MIDI event each key of a program is first heard, measured on lone dry notes; -1: it is silent. */
export function attackDelays(font: string, program: number, kit: number): Float64Array {
  const name = `delay-${font.replace(/.*\//, '')}-${program < 0 ? `kit${kit}` : program}.json`;
  const path = join(LESSON_CACHE, name);
  if (existsSync(path))
    return Float64Array.from(JSON.parse(readFileSync(path, 'utf8')) as number[]);
  const channel = program < 0 ? 9 : 0;
  const events: MidiEvent[] = [programBytes(channel, program < 0 ? kit : program)];
  const keys = Array.from({ length: 85 }, (_, i) => i + 24);
  const spacing = program < 0 ? 4 : 1.2;
  for (const [i, key] of keys.entries()) {
    const time = eventTime(0.5 + i * spacing).asked;
    events.push({ time, bytes: [0x90 | channel, key, 80] });
    events.push({ time: time + 0.3, bytes: [0x80 | channel, key, 0] });
  }
  const [left, right] = synthesise(font, events, undefined);
  const delays = new Float64Array(128).fill(-1);
  for (const [i, key] of keys.entries()) {
    const from = Math.round(eventTime(0.5 + i * spacing).start * RENDER_RATE);
    let peak = 0;
    for (let k = 0; k < 0.15 * RENDER_RATE; k++)
      peak = Math.max(peak, Math.abs(left[from + k] + right[from + k]));
    if (peak < 1e-4) continue;
    let k = 0;
    while (Math.abs(left[from + k] + right[from + k]) < AUDIBLE * peak) k++;
    delays[key] = k / RENDER_RATE;
  }
  writeFileSync(`${path}-${threadId}`, JSON.stringify([...delays]));
  renameSync(`${path}-${threadId}`, path);
  return delays;
}

export interface LessonAudio {
  readonly channels: readonly Float32Array[];
  readonly rate: number;
  /** First audible samples of all attacks, not merged. */
  readonly attacks: readonly { readonly time: number; readonly note: LessonNote }[];
}

interface Attacks {
  readonly channels: readonly Float32Array[];
  readonly attacks: { readonly time: number; readonly note: LessonNote }[];
}

function playByBank(lesson: Lesson, font: string, room?: { level: number; size: number }): Attacks {
  const programs = [...new Set(lesson.notes.map((note) => note.program))].filter((p) => p >= 0);
  const events: MidiEvent[] = programs.map((program, i) => programBytes(i, program));
  events.push(programBytes(9, lesson.kit));
  for (let i = 0; i < programs.length; i++)
    events.push({ time: 0, bytes: [0xb0 | i, 1, lesson.vibrato] });
  for (const { time, down } of lesson.pedal)
    events.push({ time, bytes: [0xb0, 64, down ? 127 : 0] });
  const attacks: { time: number; note: LessonNote }[] = [];
  const lastEnd = new Map<string, number>();
  const backwards = [...lesson.notes].sort((a, b) => b.time - a.time);
  for (const note of backwards) {
    const channel = note.program < 0 ? 9 : programs.indexOf(note.program);
    const { asked: time, start } = eventTime(note.time);
    const id = `${channel}:${note.key}`;
    const next = lastEnd.get(id) ?? Infinity;
    if (next - time < 0.02) continue;
    lastEnd.set(id, time);
    events.push({ time, bytes: [0x90 | channel, note.key, note.velocity] });
    events.push({
      time: Math.min(time + note.duration, next - 0.003),
      bytes: [0x80 | channel, note.key, 0],
    });
    const delay = attackDelays(font, note.program, lesson.kit)[note.key];
    if (delay >= 0) attacks.push({ time: start + delay, note });
  }
  return { channels: synthesise(font, events, room), attacks };
}

/**
 * Steady, shaking and swelling tones of our own, whose only attacks are their beginnings. `sung`: long
 * ones, that shake as voices and strings do, by up to a semitone either way, often not from the start.
 */
function playTones(lesson: Lesson, random: () => number, sung = false): Attacks {
  const uniform = (low: number, high: number) => low + (high - low) * random();
  const mix = new Float32Array(Math.round(lesson.seconds * RENDER_RATE));
  const attacks: Attacks['attacks'] = [];
  const every = Math.ceil(sung ? uniform(2, 6) : uniform(1, 4));
  const longer = sung ? uniform(2, 6) : uniform(0.5, 4);
  lesson.notes.forEach((note, n) => {
    if (n % every > 0) return;
    const start = Math.round(note.time * RENDER_RATE);
    const length = Math.round(Math.max(0.15, note.duration * longer) * RENDER_RATE);
    const rise = Math.round(
      (random() < 0.5 ? uniform(0, 0.004) : uniform(0.004, 0.05)) * RENDER_RATE,
    );
    const hertz = 440 * 2 ** ((note.key - 69) / 12);
    const vibrato = random() < (sung ? 0.9 : 0.5) ? uniform(0, sung ? 0.06 : 0.03) : 0;
    const settled = sung && random() < 0.6 ? uniform(0.05, 0.6) * RENDER_RATE : 1;
    const formants = sung ? [uniform(300, 900), uniform(900, 2600), uniform(2500, 4000)] : [];
    const width = sung ? uniform(0.15, 0.5) : 1;
    const tremolo = random() < 0.3 ? uniform(0, 0.5) : 0;
    const speed = uniform(3.5, 7.5) / RENDER_RATE;
    const partials = Math.ceil(random() < 0.3 ? 1 : uniform(1, 12));
    const slope = uniform(0.7, 2);
    const decay = random() < 0.5 ? uniform(0.5, 8) / RENDER_RATE : 0;
    const loud = 0.3 * (note.velocity / 127) ** 1.5;
    // As the pitch shakes, a fixed resonance makes each partial swell and fade.
    const resonance = (hz: number) =>
      formants.reduce((sum, f) => sum + 3 * Math.exp(-0.5 * (Math.log2(hz / f) / width) ** 2), 1);
    let phase = random();
    let peak = 0;
    const tone = new Float32Array(Math.min(length, mix.length - start));
    for (let i = 0; i < tone.length; i++) {
      const shake = Math.min(1, i / settled) * Math.sin(2 * Math.PI * speed * i);
      phase += (hertz / RENDER_RATE) * (1 + vibrato * shake);
      let x = 0;
      for (let p = 1; p <= partials && p * hertz < 15000; p++)
        x += (Math.sin(2 * Math.PI * p * phase) / p ** slope) * resonance(p * hertz);
      const end = Math.min(1, (tone.length - i) / (0.03 * RENDER_RATE));
      const begin = i < rise ? Math.sin((Math.PI / 2) * (i / rise)) ** 2 : 1;
      tone[i] = loud * x * end * begin * (1 - tremolo * (0.5 + 0.5 * shake)) * Math.exp(-decay * i);
      if (i < 0.15 * RENDER_RATE) peak = Math.max(peak, Math.abs(tone[i]));
      mix[start + i] += tone[i];
    }
    const begun = tone.findIndex((value) => Math.abs(value) >= AUDIBLE * peak && peak > 0);
    if (begun >= 0) attacks.push({ time: (start + begun) / RENDER_RATE, note });
  });
  return { channels: [mix], attacks };
}

/** The sounds that the test performances fall back on where there is no bank. */
function playPlainly(lesson: Lesson): Attacks {
  const kind = (program: number): Instrument['attack'] =>
    program < 0
      ? 'brushed'
      : (program >= 24 && program < 40) || program === 46 || program === 6
        ? 'plucked'
        : program >= 40 && program < 56
          ? 'bowed'
          : program >= 56 || (program >= 16 && program < 24)
            ? 'blown'
            : 'struck';
  const drums = [36, 38, 40, 42, 51];
  const played = lesson.notes.map((note) => {
    const { program } = note;
    const instrument: Instrument = {
      name: String(program),
      program: Math.max(0, program),
      attack: kind(program),
      ...(program < 0 ? { drums: true } : {}),
    };
    const pitch = program < 0 ? drums[note.key % drums.length] : note.key;
    const { time, duration, velocity } = note;
    const part: 'drums' | 'chords' = program < 0 ? 'drums' : 'chords';
    return { time, seconds: duration, pitch, velocity, part, instrument };
  });
  const pedal = [];
  for (let i = 0; i + 1 < lesson.pedal.length; i += 2)
    pedal.push({ down: lesson.pedal[i].time, up: lesson.pedal[i + 1].time });
  const { audio, starts } = renderPlain(played, pedal, lesson.seconds, 0, RENDER_RATE);
  const attacks = lesson.notes.map((note, i) => {
    const alone = plainNote(played[i], 0.2, 0, RENDER_RATE, i + 1);
    const delay = firstAudible(
      { sampleRate: RENDER_RATE, channels: [alone] },
      0,
      Math.round(0.15 * RENDER_RATE),
    );
    return { time: (starts[i] + delay) / RENDER_RATE, note };
  });
  return { channels: audio.channels, attacks };
}

/** Whether a lesson needs a bank of sounds: the others are played by sounds of our own. */
export function needsBank(seed: number): boolean {
  return makeRandom(seed * 104729 + 5)() >= OWN_SOUNDS;
}

/**
 * The lesson played in a room, and the same as an old record. Sounds: a bank's, or our own; `sung`: tones
 * of our own that shake.
 */
export function renderLesson(lesson: Lesson, font: string, sung = false): LessonAudio[] {
  const random = makeRandom(lesson.seed * 104729 + 5);
  const uniform = (low: number, high: number) => low + (high - low) * random();
  const own = sung ? 0 : random();
  const bankRoom =
    random() < 0.6 ? { level: uniform(0.1, 0.9), size: uniform(0.2, 0.9) } : undefined;
  const played =
    own < TONES
      ? playTones(lesson, random, sung)
      : own < OWN_SOUNDS
        ? playPlainly(lesson)
        : playByBank(lesson, font, bankRoom);
  const attacks = [...played.attacks].sort((a, b) => a.time - b.time);
  let rendered = played.channels;
  if ((own < OWN_SOUNDS || !bankRoom) && random() < 0.6) {
    const place = { ...dry, room: uniform(0.2, 1.3), wet: uniform(0.05, 0.5) };
    rendered = putInto({ sampleRate: RENDER_RATE, channels: rendered }, place, lesson.seed).audio
      .channels;
  }
  let first = 0;
  let last = Math.min(rendered[0].length, Math.round(lesson.seconds * RENDER_RATE));
  if (random() < 0.3) first = Math.round(attacks[0].time * RENDER_RATE);
  if (random() < 0.3)
    last = Math.round((attacks[attacks.length - 1].time + uniform(0.01, 0.1)) * RENDER_RATE);
  const clean = rendered.map((channel) => channel.slice(first, last));
  const old = oldRecord(clean, random);
  if (random() < 0.3) addNoise(clean, 10 ** (uniform(-80, -55) / 20), random);
  const shifted = attacks.map(({ time, note }) => ({ time: time - first / RENDER_RATE, note }));
  return [clean, old].map((channels) => ({ channels, rate: RENDER_RATE, attacks: shifted }));
}

function peakOf(channels: readonly Float32Array[]): number {
  let peak = 1e-9;
  for (const channel of channels)
    for (const value of channel) peak = Math.max(peak, Math.abs(value));
  return peak;
}

/** White noise at `level` times the peak (root mean square). */
function addNoise(channels: readonly Float32Array[], level: number, random: () => number): void {
  const scale = level * peakOf(channels) * Math.sqrt(3);
  for (const channel of channels)
    for (let i = 0; i < channel.length; i++) channel[i] += scale * (2 * random() - 1);
}

/** Mono, about 7.5 kHz wide, a small room, hiss. */
function oldRecord(channels: readonly Float32Array[], random: () => number): Float32Array[] {
  const uniform = (low: number, high: number) => low + (high - low) * random();
  const frames = channels[0].length;
  let mono: Float32Array = new Float32Array(frames);
  for (const channel of channels) for (let i = 0; i < frames; i++) mono[i] += channel[i] / 2;
  if (random() < 0.7) {
    const wet = uniform(0.1, 0.5);
    const decay = uniform(0.15, 0.6);
    const room = new Float32Array(frames);
    for (let tap = 0; tap < 90; tap++) {
      const delay = Math.floor(uniform(0.006, decay) * RENDER_RATE);
      const gain =
        (random() < 0.5 ? -1 : 1) * wet * Math.exp((-3 * delay) / (decay * RENDER_RATE)) * 0.35;
      for (let i = delay; i < frames; i++) room[i] += gain * mono[i - delay];
    }
    for (let i = 0; i < frames; i++) mono[i] += room[i];
  }
  addNoise([mono], 10 ** (uniform(-58, -40) / 20), random);
  const cutoff = uniform(5500, 8500);
  for (let pass = 0; pass < 3; pass++) mono = lowPass(mono, cutoff);
  if (random() < 0.5) {
    const cut = Math.exp((-2 * Math.PI * uniform(40, 120)) / RENDER_RATE);
    let slow = 0;
    for (let i = 0; i < frames; i++) {
      slow = cut * slow + (1 - cut) * mono[i];
      mono[i] -= slow;
    }
  }
  return [mono];
}

/** Second-order Butterworth low-pass (R. Bristow-Johnson's audio equaliser cookbook). */
function lowPass(signal: Float32Array, cutoff: number): Float32Array {
  const w = (2 * Math.PI * cutoff) / RENDER_RATE;
  const alpha = Math.sin(w) / Math.SQRT2;
  const a0 = 1 + alpha;
  const b1 = (1 - Math.cos(w)) / a0;
  const a1 = (-2 * Math.cos(w)) / a0;
  const a2 = (1 - alpha) / a0;
  const out = new Float32Array(signal.length);
  let x1 = 0;
  let x2 = 0;
  let y1 = 0;
  let y2 = 0;
  for (let i = 0; i < signal.length; i++) {
    const x = signal[i];
    const y = (b1 / 2) * x + b1 * x1 + (b1 / 2) * x2 - a1 * y1 - a2 * y2;
    x2 = x1;
    x1 = x;
    y2 = y1;
    y1 = y;
    out[i] = y;
  }
  return out;
}
