import type { Beats, Bpm, Seconds } from '../../shared/math/units.ts';
import type { Chance } from './chance.ts';
import type { Score } from './score.ts';

/** How freely a piece is played. All shares are of a beat's own length. */
export interface Freedom {
  readonly bpm: Bpm;
  /** How much slower a phrase's ends are than its middle. */
  readonly arch: number;
  /** Speed left at the end of the final ritardando, as a share. */
  readonly finalSpeed: number;
  /** Mean lengthening of a stressed beat. */
  readonly agogic: number;
  /** Mean slowing before a return. */
  readonly ritenuto: number;
  /** Share of phrases after which the players wait, and for how many beats at most. */
  readonly pauses: number;
  readonly pauseBeats: Beats;
  /** Share of beats held like a fermata inside a phrase. */
  readonly fermatas: number;
  /** Deviation of the slow drift of tempo (of its logarithm). */
  readonly drift: number;
  /** Share of phrases with a stretch in which the tempo moves towards half or double. */
  readonly surges: number;
}

/** Steps a beat at which the tempo is held. */
const grid = 12;

/**
 * Written place to performed time, by published rules of performance:
 * phrase arches slow at both ends, more at the end (Todd 1985, "A model of expressive timing in tonal
 * music", Music Perception 3(1); the parabola of Repp 1992, JASA 92(5)), on phrases and on halves of
 * them; the final ritardando as runners stop (Friberg and Sundberg 1999, "Does music performance
 * allude to locomotion?", JASA 105(3): v = (1 + (w^q - 1) x)^(1/q), q = 3); agogic accents on stressed
 * beats and ritenuto before returns (common practice, no source); drift as a random walk that is
 * pulled home and a little unevenness from beat to beat, the slow and the quick part of the noise of
 * Gilden et al. 1995 (Science 267).
 */
export class TempoCurve {
  private readonly times: Float64Array;

  constructor(chance: Chance, score: Score, freedom: Freedom) {
    const steps = Math.ceil(score.beats) * grid + 1;
    const slow = new Float64Array(steps);
    const extra = new Float64Array(steps);
    let home = 0;
    for (let i = 0; i < steps; i++) {
      if (i % (grid / 2) === 0) home = 0.86 * home + chance.normal(0, freedom.drift * 0.5);
      slow[i] = home;
    }
    score.phrases.forEach((phrase, index) => {
      const next = score.phrases[index + 1];
      this.arch(slow, phrase.start, phrase.end, freedom.arch * chance.between(0.5, 1.4));
      const middle = Math.round((phrase.start + phrase.end) / 2);
      this.arch(slow, phrase.start, middle, freedom.arch * chance.between(0, 0.6));
      this.arch(slow, middle, phrase.end, freedom.arch * chance.between(0, 0.6));
      const known = score.phrases.slice(0, index + 1).some((p) => p.material === next?.material);
      if (known) {
        const depth = freedom.ritenuto * chance.between(0.4, 1.6);
        const from = phrase.end - chance.whole(2, 3);
        for (let i = Math.round(from * grid); i < phrase.end * grid; i++) {
          const x = (i / grid - from) / (phrase.end - from);
          slow[i] += depth * x;
        }
      }
      if (next && chance.odds(freedom.pauses)) {
        // The breath lies just before the next phrase's first note, within its last step.
        const last = Math.round(phrase.end * grid) - 1;
        extra[last] += freedom.pauseBeats * chance.between(0.3, 1);
      }
      if (chance.odds(freedom.surges)) this.surge(chance, slow, phrase.start, phrase.end);
      for (let beat = Math.ceil(phrase.start) + 1; beat < phrase.end - 1; beat++) {
        if (!chance.odds(freedom.fermatas)) continue;
        const held = chance.between(0.6, 2.2);
        for (let i = 0; i < grid; i++) extra[beat * grid + i] = held / grid;
      }
    });
    for (let beat = 0; beat < Math.floor(score.beats); beat++) {
      const uneven = chance.normal(0, freedom.drift * 0.45);
      for (let i = 0; i < grid; i++) slow[beat * grid + i] += uneven;
      const stressed = (beat - score.firstBar) % score.beatsPerBar === 0;
      if (!chance.odds(stressed ? 0.5 : 0.15)) continue;
      const stretch = Math.max(0, chance.normal(freedom.agogic, freedom.agogic / 2));
      for (let i = 0; i < grid; i++) slow[beat * grid + i] += stretch;
    }
    const beat = 60 / freedom.bpm;
    const ending = chance.between(3, 6);
    const w = freedom.finalSpeed;
    this.times = new Float64Array(steps + 1);
    for (let i = 0; i < steps; i++) {
      const x = Math.max(0, Math.min(1, 1 - (score.beats - i / grid) / ending));
      const speed = Math.cbrt(1 + (w ** 3 - 1) * x);
      const length = (beat / grid) * Math.exp(slow[i]) * (1 / speed) + extra[i] * beat;
      this.times[i + 1] = (this.times[i] ?? 0) + length;
    }
  }

  private arch(slow: Float64Array, start: Beats, end: Beats, depth: number): void {
    for (let i = Math.max(0, Math.ceil(start * grid)); i < end * grid; i++) {
      const x = (i / grid - start) / (end - start);
      const bend = x < 0.45 ? (x / 0.45 - 1) ** 2 * 0.6 : ((x - 0.45) / 0.55) ** 2;
      slow[i] += depth * (bend - 0.3);
    }
  }

  private surge(chance: Chance, slow: Float64Array, start: Beats, end: Beats): void {
    const from = Math.max(0, chance.between(start, end - 3));
    const length = chance.between(2, Math.min(7, end - from));
    const size = chance.between(0.35, 0.69) * (chance.odds(0.5) ? 1 : -1);
    for (let i = Math.round(from * grid); i < Math.round((from + length) * grid); i++) {
      const x = (i / grid - from) / length;
      slow[i] += size * Math.sin(Math.PI * x) ** 2;
    }
  }

  /** Performed time of a written place, from the start of the curve. */
  timeAt(beat: Beats): Seconds {
    const place = Math.max(0, beat * grid);
    const i = Math.min(this.times.length - 2, Math.floor(place));
    const a = this.times[i];
    const b = this.times[i + 1] ?? a;
    return a + (b - a) * (place - i);
  }
}
