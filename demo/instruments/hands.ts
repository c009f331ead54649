import type { Hertz, Samples, Seconds } from '../../shared/math/units.ts';
import { type Chance, makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { fingerNotes } from './fingering.ts';

/**
 * What hands and breath add that is no note: fingertips that slide along wound strings when the hand
 * moves, a player who breathes in before a phrase, pads that close. All of it lies well below
 * the playing.
 */
export function addSqueaks(bridge: Float64Array, notes: readonly PlayedNote[], rate: Hertz): void {
  const chance = makeChance(613);
  for (const { open, played } of fingerNotes(notes).slice(0, 3)) {
    played.forEach((note, index) => {
      const before = played[index - 1];
      const from = (before?.midi ?? open) - open;
      const to = (note.midi ?? open) - open;
      if (!before || from === 0 || to === 0 || Math.abs(to - from) < 3) return;
      if (note.time - before.time > 3 || chance.between(0, 1) > 0.6) return;
      const seconds = chance.between(0.05, 0.11);
      const start = note.time - seconds - chance.between(0.02, 0.05);
      // The windings pass under the finger: a pitch that rises and falls with its speed.
      const top = chance.between(900, 1500) * (to > from ? 1 : 0.8);
      slide(bridge, start, seconds, top, 0.006 * chance.between(0.5, 1.1), rate, chance);
    });
  }
}

function slide(
  out: Float64Array,
  start: Seconds,
  seconds: Seconds,
  top: Hertz,
  strength: number,
  rate: Hertz,
  chance: Chance,
): void {
  const from = Math.round(start * rate);
  const count = Math.round(seconds * rate);
  let phase = 0;
  let rough = 0;
  for (let n = 0; n < count; n++) {
    const speed = Math.sin((Math.PI * (n + 1)) / (count + 1));
    phase += (2 * Math.PI * top * (0.45 + 0.55 * speed) * (1 + 0.06 * chance.noise())) / rate;
    rough += 0.5 * (chance.noise() - rough);
    const scrape = Math.sin(phase) + 0.5 * Math.sin(2 * phase + 0.6) + 0.25 * Math.sin(3 * phase);
    out[from + n] += strength * speed * (0.4 * scrape + 0.9 * rough);
  }
}

/** Breathing in before the wind player's first notes after a rest, and the pads under the fingers. */
export function addBreathAndKeys(
  out: Float64Array,
  notes: readonly PlayedNote[],
  rate: Hertz,
): void {
  const chance = makeChance(808);
  notes.forEach((note, index) => {
    const before = notes[index - 1];
    const rest = note.time - (before?.until ?? 0);
    if (rest > 0.45 && !note.slurred) {
      const seconds = Math.min(0.55, rest * 0.6) * chance.between(0.85, 1);
      inhale(out, note.time - seconds - chance.between(0.09, 0.13), seconds, rate, chance);
    }
    if (note.slurred) {
      const at = Math.round((note.time + 0.004 * chance.normal()) * rate);
      knock(out, at, 0.0032 * chance.between(0.3, 1), rate, chance);
    }
  });
}

function inhale(
  out: Float64Array,
  start: Seconds,
  seconds: Seconds,
  rate: Hertz,
  chance: Chance,
): void {
  const from = Math.max(0, Math.round(start * rate));
  const count = Math.round(seconds * rate);
  const strength = 0.0011 * chance.between(0.7, 1.2);
  let high = 0;
  let low = 0;
  for (let n = 0; n < count; n++) {
    const share = n / count;
    // Slowly in, and held at the end.
    const shape = Math.sin(Math.PI * share ** 0.7) ** 2;
    high += (0.25 + 0.2 * share) * (chance.noise() - high);
    low += 0.06 * (high - low);
    out[from + n] += strength * shape * (high - low);
  }
}

/** A pad that closes: two short modes of wood and a little noise. */
function knock(
  out: Float64Array,
  at: Samples,
  strength: number,
  rate: Hertz,
  chance: Chance,
): void {
  const pitches = [chance.between(620, 900), chance.between(1700, 2600)];
  const count = Math.round(0.03 * rate);
  for (let n = 0; n < count; n++) {
    const fade = Math.exp((-n / rate) * 260);
    const ring = pitches.reduce((sum, p) => sum + Math.sin((2 * Math.PI * p * n) / rate), 0);
    out[at + n] += strength * fade * Math.min(1, n / 15) * (ring + 0.5 * chance.noise());
  }
}
