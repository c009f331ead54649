import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Cents, Samples, Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { Instrument } from './instruments.ts';
import { type MidiEvent, midiFile } from './midi.ts';
import type { PedalStroke, PlayedNote } from './played.ts';

/** Debian's fluid-soundfont-gm (MIT), played by fluidsynth where both are installed. */
const soundfont = '/usr/share/sounds/sf2/FluidR3_GM.sf2';
const rate = 44100;
/** fluidsynth acts on events between blocks of this many samples. */
const block = 64;

let installed: boolean | undefined;

export function hasFluid(): boolean {
  installed ??= existsSync(soundfont) && spawnSync('fluidsynth', ['--version']).status === 0;
  return installed;
}

/**
 * The sample at which fluidsynth 2 starts a note written at a whole millisecond: it looks at its clock
 * once a block, in milliseconds rounded down (found by experiment, exact over 60 notes).
 */
export function startOf(milliseconds: number): Samples {
  let k = Math.max(0, Math.floor((milliseconds * rate) / 1000 / block) - 2);
  while (Math.floor((1000 * block * k) / rate) < milliseconds) k++;
  return k * block;
}

function run(events: readonly MidiEvent[], milliseconds: number): Audio {
  const folder = mkdtempSync(join(tmpdir(), 'perform-'));
  try {
    const midi = join(folder, 'take.mid');
    const raw = join(folder, 'take.raw');
    writeFileSync(midi, midiFile(events, milliseconds));
    const options = ['-ni', '-R', '0', '-C', '0', '-g', '0.6', '-r', String(rate)];
    const output = ['-O', 'float', '-T', 'raw', '-F', raw];
    const done = spawnSync('fluidsynth', [...options, ...output, soundfont, midi]);
    if (done.status !== 0) throw new Error(`fluidsynth ended with ${done.status}: ${done.stderr}`);
    const bytes = readFileSync(raw);
    const length = Math.min(bytes.length / 8, Math.round((milliseconds * rate) / 1000));
    const left = new Float32Array(length);
    const right = new Float32Array(length);
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    for (let i = 0; i < length; i++) {
      left[i] = view.getFloat32(8 * i, true);
      right[i] = view.getFloat32(8 * i + 4, true);
    }
    return { sampleRate: rate, channels: [left, right] };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** One MIDI channel for each instrument; drums on the tenth. */
function channels(notes: readonly PlayedNote[]): Map<Instrument, number> {
  const map = new Map<Instrument, number>();
  let next = 0;
  for (const { instrument } of notes) {
    if (map.has(instrument)) continue;
    map.set(instrument, instrument.drums ? 9 : next++);
    if (next === 9) next = 10;
  }
  return map;
}

function programs(map: ReadonlyMap<Instrument, number>, cents: Cents): MidiEvent[] {
  const fine = 8192 + Math.round((cents / 100) * 8192);
  return [...map].flatMap(([instrument, channel]) => [
    { at: 0, bytes: [0xc0 | channel, instrument.program] },
    // Registered parameter 1, channel fine tuning: 8192 steps are 100 cents.
    { at: 0, bytes: [0xb0 | channel, 101, 0] },
    { at: 0, bytes: [0xb0 | channel, 100, 1] },
    { at: 0, bytes: [0xb0 | channel, 6, fine >> 7] },
    { at: 0, bytes: [0xb0 | channel, 38, fine & 127] },
  ]);
}

/** Renders notes and says at which sample each starts to be rendered (its attack comes a little later). */
export function renderFluid(
  notes: readonly PlayedNote[],
  pedal: readonly PedalStroke[],
  seconds: Seconds,
  cents: Cents,
): { audio: Audio; starts: Samples[] } {
  const map = channels(notes);
  const events = programs(map, cents);
  const starts: Samples[] = [];
  const ms = (time: Seconds): number => Math.round(time * 1000);
  const next = new Map<string, number>();
  // Backwards, so that a key that is struck again is let go just before.
  for (let i = notes.length - 1; i >= 0; i--) {
    const note = notes[i];
    if (!note) continue;
    const channel = map.get(note.instrument) ?? 0;
    const key = `${channel} ${note.pitch}`;
    const on = ms(note.time);
    const struckAgain = next.get(key) ?? Number.POSITIVE_INFINITY;
    const off = Math.max(on + 1, Math.min(ms(note.time + note.seconds), struckAgain - 3));
    events.push({ at: on, bytes: [0x90 | channel, note.pitch, note.velocity] });
    if (off < struckAgain) events.push({ at: off, bytes: [0x80 | channel, note.pitch, 0] });
    next.set(key, on);
    starts[i] = startOf(on);
  }
  for (const [instrument, channel] of map) {
    if (instrument.drums || instrument.attack !== 'struck') continue;
    for (const stroke of pedal) {
      events.push({ at: ms(stroke.down), bytes: [0xb0 | channel, 64, 127] });
      events.push({ at: ms(stroke.up), bytes: [0xb0 | channel, 64, 0] });
    }
  }
  return { audio: run(events, ms(seconds)), starts };
}

/** A note is audible from its first sample that comes within this of its attack's peak (20 log10). */
export const audibleBelowPeak = -30;

/**
 * Samples from where a lone note starts to be rendered until it is audible, for each pitch of an
 * instrument: the first sample within 30 dB of the peak of its first 150 ms. Velocity changes the level
 * of this bank's sounds but not this (checked at 35 and 90).
 */
export function attackDelays(
  instrument: Instrument,
  pitches: readonly number[],
): Map<number, Samples> {
  const apart = 1500;
  const notes = pitches.map(
    (pitch, i): PlayedNote => ({
      time: 0.2 + (i * apart) / 1000,
      seconds: 0.4,
      pitch,
      velocity: 90,
      part: instrument.drums ? 'drums' : 'melody',
      instrument,
    }),
  );
  const { audio, starts } = renderFluid(notes, [], (apart * (pitches.length + 1)) / 1000, 0);
  const delays = new Map<number, Samples>();
  starts.forEach((start, i) => {
    delays.set(pitches[i] ?? 0, firstAudible(audio, start, Math.round(0.15 * rate)));
  });
  return delays;
}

/** Samples from `start` to the first within 30 dB of the peak of the next `span` samples. */
export function firstAudible(audio: Audio, start: Samples, span: Samples): Samples {
  const level = (i: number): number =>
    Math.max(...audio.channels.map((channel) => Math.abs(channel[start + i] ?? 0)));
  let peak = 0;
  for (let i = 0; i < span; i++) peak = Math.max(peak, level(i));
  const threshold = peak * 10 ** (audibleBelowPeak / 20);
  for (let i = 0; i < span; i++) if (level(i) >= threshold && level(i) > 0) return i;
  return 0;
}
