import type { Seconds, Semitones, Share } from '../../math/units.ts';
import type { Phrase } from '../heard.ts';
import { likenessRow, type Material, row } from './material.ts';
import type { Repeats } from './repeats.ts';

/** A phrase counts as a return from this likeness on. */
const alike: Share = 0.63;
/** As much of two phrases is compared: their openings say which they are, their ends may be cut elsewhere. */
const longest: Seconds = 10;
const shortest: Seconds = 2;
/** The transposition is read this close to the phrase's start. */
const near: Seconds = 0.4;

/**
 * Marks each phrase that repeats an earlier one's material, and how many semitones higher (-5 to 6):
 * the transposition in which most comes back from its start on, then the earlier phrase that aligns best.
 */
export function findReturns(
  phrases: readonly Phrase[],
  material: Material,
  repeats: Repeats,
): Phrase[] {
  return phrases.map((phrase, i) => {
    const up = transpositionAt(repeats, phrase.start);
    const semitones = up > 6 ? up - 12 : up;
    let like: Phrase['like'];
    for (let j = 0; j < i; j++) {
      const earlier = phrases[j];
      const length = Math.min(phrase.end - phrase.start, earlier.end - earlier.start, longest);
      if (length < shortest) continue;
      const score = alikeFrom(material, earlier.start, phrase.start, up, length);
      if (score >= alike && score > (like?.score ?? 0)) like = { phrase: j, semitones, score };
    }
    return like ? { ...phrase, like } : phrase;
  });
}

/** The transposition (0 to 11) in which something earlier comes back most from `start` on. */
function transpositionAt({ goesOn, hop }: Repeats, start: Seconds): Semitones {
  const first = Math.max(0, Math.round((start - near) / hop));
  const last = Math.min(goesOn.length / 12 - 1, Math.round((start + near) / hop));
  let best = 0;
  let most = Number.NEGATIVE_INFINITY;
  for (let k = first; k <= last; k++)
    for (let up = 0; up < 12; up++)
      if (goesOn[k * 12 + up] > most) {
        most = goesOn[k * 12 + up];
        best = up;
      }
  return best;
}

/**
 * How alike the music from two moments on is over `length` of the first and half to twice that of the
 * second, when the second is lowered by `semitones`: the mean likeness along the best alignment,
 * weighted symmetrically (Sakoe and Chiba 1978, symmetric form), free at its end.
 */
export function alikeFrom(
  { frames, hop }: Material,
  first: Seconds,
  second: Seconds,
  semitones: Semitones,
  length: Seconds,
): Share {
  const count = frames.length / row;
  // The first raised by as much is the second lowered.
  const down = (12 - semitones) % 12;
  const a0 = Math.round(first / hop);
  const b0 = Math.round(second / hop);
  const n = Math.min(Math.max(1, Math.round(length / hop)), count - a0);
  let before = new Float64Array(2 * n);
  let now = new Float64Array(2 * n);
  const here = new Float32Array(2 * n);
  let best = 0;
  for (let i = 0; i < n; i++) {
    now.fill(Number.NEGATIVE_INFINITY);
    const last = Math.min(2 * i + 1, count - 1 - b0);
    const start = Math.floor(i / 2);
    likenessRow(frames, a0 + i, down, last - start + 1, here, start, b0 + start);
    for (let j = start; j <= last; j++) {
      const alike = here[j];
      let from = i === 0 && j === 0 ? alike : Number.NEGATIVE_INFINITY;
      if (i > 0 && j > 0) from = Math.max(from, before[j - 1] + alike);
      if (i > 0) from = Math.max(from, before[j]);
      if (j > 0) from = Math.max(from, now[j - 1]);
      now[j] = from + alike;
      if (i === n - 1) best = Math.max(best, now[j] / (i + j + 2));
    }
    [before, now] = [now, before];
  }
  return best;
}
