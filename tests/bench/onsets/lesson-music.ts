import { makeRandom } from '../../../shared/math/random.ts';

/** A note to be rendered: times in seconds, MIDI key and velocity, General MIDI program (-1: drums). */
export interface LessonNote {
  readonly time: number;
  readonly duration: number;
  readonly key: number;
  readonly velocity: number;
  readonly program: number;
}

export interface Lesson {
  readonly seed: number;
  readonly kind: 'piano' | 'trio' | 'other';
  readonly notes: readonly LessonNote[];
  /** When the pedal goes down and up. */
  readonly pedal: readonly { readonly time: number; readonly down: boolean }[];
  /** Drum kit (General MIDI program on the drum channel). */
  readonly kit: number;
  readonly seconds: number;
  /** Depth of vibrato on sustained sounds (MIDI controller 1), 0 to 127. */
  readonly vibrato: number;
}

const OTHERS = [
  2, 3, 4, 5, 6, 11, 12, 16, 19, 21, 24, 25, 26, 40, 41, 42, 43, 46, 48, 49, 56, 60, 65, 66, 68, 70,
  71, 73, 79,
];
const KEYBOARDS = [0, 0, 0, 0, 0, 1, 1, 2, 2, 3];
const COMPERS = [0, 0, 0, 0, 1, 2, 2, 4, 11, 26];
const SINGERS = [11, 40, 42, 56, 65, 66, 68, 71, 73];
/** Lowest and highest key that we ask of a program; others take what a piano takes. */
const RANGES = new Map<number, readonly [number, number]>([
  [24, [40, 83]],
  [25, [40, 83]],
  [26, [40, 83]],
  [32, [26, 60]],
  [33, [26, 60]],
  [35, [26, 60]],
  [40, [55, 98]],
  [41, [48, 86]],
  [42, [36, 76]],
  [43, [28, 55]],
  [56, [52, 84]],
  [60, [41, 77]],
  [65, [49, 81]],
  [66, [44, 76]],
  [68, [58, 90]],
  [70, [34, 72]],
  [71, [50, 91]],
  [73, [59, 96]],
  [11, [53, 89]],
  [12, [48, 89]],
  [79, [60, 90]],
]);
const SCALE = [0, 2, 4, 5, 7, 9, 11];

/**
 * Music that teaches the ear: not meant to be listened to. Events at a wandering pace, chords struck
 * together, loosely or rolled, grace notes, trills, runs, repeated notes, ghost notes, lone basses
 * under a pedal, pauses; a bass and drums around them in a trio.
 */
export function makeLesson(seed: number, seconds: number): Lesson {
  const random = makeRandom(seed * 7919 + 13);
  const uniform = (low: number, high: number) => low + (high - low) * random();
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)];
  const draw = random();
  const kind = draw < 0.45 ? 'piano' : draw < 0.75 ? 'trio' : 'other';
  const program =
    kind === 'piano' ? pick(KEYBOARDS) : kind === 'trio' ? pick(COMPERS) : pick(OTHERS);
  const voice =
    (kind === 'trio' && random() < 0.25) || (kind === 'other' && random() < 0.5)
      ? pick(SINGERS)
      : program;
  const bassVoice = kind === 'other' && random() < 0.4 ? pick([32, 33, 35, 42, 43]) : program;
  const notes: LessonNote[] = [];
  const key = Math.floor(uniform(0, 12));
  const snap = (wanted: number) => {
    const rounded = Math.round(wanted);
    if (random() < 0.12) return rounded;
    const within = (((rounded - key) % 12) + 12) % 12;
    return rounded + (SCALE.includes(within) ? 0 : random() < 0.5 ? -1 : 1);
  };
  const low = kind === 'other' ? 40 : 26;
  const high = kind === 'other' ? 92 : 104;
  const add = (
    time: number,
    duration: number,
    pitch: number,
    velocity: number,
    by: number = program,
  ) => {
    const [low, high] = RANGES.get(by) ?? [26, 104];
    if (time < 0 || time > seconds - 0.1) return;
    const clamped = Math.max(low, Math.min(high, Math.round(pitch)));
    notes.push({
      time,
      duration: Math.max(0.04, duration),
      key: by < 0 ? Math.round(pitch) : clamped,
      velocity: Math.max(10, Math.min(124, Math.round(velocity))),
      program: by,
    });
  };

  const pace = Math.exp(uniform(Math.log(0.16), Math.log(0.65)));
  const tight = uniform(0.002, 0.012);
  const loose = uniform(0.012, 0.035);
  const looseShare = random() < 0.5 ? uniform(0, 0.3) : uniform(0.3, 0.9);
  const rollShare = uniform(0, 0.25);
  const lead = random() < 0.5 ? uniform(0, 0.045) : 0;
  const loudness = uniform(45, 80);
  const range = uniform(8, 22);
  const bassShare = uniform(0.1, 0.5);
  const chordShare = uniform(0.1, 0.8);
  const legato = uniform(0.4, 1.6);
  let phraseFrom = 0;
  let phraseLength = uniform(3, 9);
  let melody = uniform(60, 80);
  let time = random() < 0.1 ? 0 : uniform(0.02, 1);
  let tempo = 1;
  while (time < seconds) {
    const place = (time - phraseFrom) / phraseLength;
    const arch = Math.sin(Math.PI * Math.min(1, place));
    const level = loudness + range * (arch - 0.5) + 8 * normal();
    tempo = Math.max(0.5, Math.min(2, tempo * Math.exp(0.06 * normal())));
    const step = pace * tempo * pick([0.5, 0.5, 1, 1, 1, 1.5, 2]) * (1.25 - 0.5 * arch);
    melody = Math.max(52, Math.min(96, melody + pick([-7, -4, -3, -2, -2, -1, 1, 2, 2, 3, 4, 7])));
    const what = random();
    if (what < 0.04) {
      const count = Math.floor(uniform(4, 12));
      const gap = uniform(0.055, 0.12);
      const other = pick([1, 2]);
      for (let i = 0; i < count; i++)
        add(
          time + i * gap + 0.006 * normal(),
          gap,
          melody + (i % 2) * other,
          level - 8 + 5 * normal(),
          voice,
        );
      time += count * gap;
    } else if (what < 0.12) {
      const count = Math.floor(uniform(3, 10));
      const gap = uniform(0.05, 0.15);
      const way = pick([-2, -1, 1, 2]);
      for (let i = 0; i < count; i++)
        add(
          time + i * gap + 0.008 * normal(),
          gap * legato,
          snap(melody + i * way),
          level - 5 + 6 * normal(),
          voice,
        );
      melody += way * count * 0.5;
      time += count * gap;
    } else if (what < 0.16) {
      const count = Math.floor(uniform(2, 6));
      const gap = uniform(0.09, 0.25);
      for (let i = 0; i < count; i++)
        add(time + i * gap, gap * 0.8, melody, level + 6 * normal(), voice);
      time += count * gap;
    } else if (what < 0.26) {
      add(time, step * uniform(0.3, 2), snap(uniform(low, high)), uniform(14, 48));
    } else {
      if (random() < 0.9) add(time, step * legato, snap(melody), level + 6, voice);
      if (random() < 0.06)
        add(time - uniform(0.035, 0.11), 0.08, melody + pick([-2, -1, 1, 2]), level - 8);
      const spread = random() < looseShare ? loose : tight;
      if (random() < chordShare) {
        const size = pick([1, 1, 2, 2, 3, 3, 4, 5]);
        const roll = random() < rollShare ? uniform(0.02, 0.09) : 0;
        const base = uniform(42, 60);
        const soft = level - uniform(4, 24);
        for (let i = 0; i < size; i++)
          add(
            time + lead + (roll > 0 ? (i - size) * roll : 0) + spread * normal(),
            step * legato * uniform(0.8, 2),
            snap(base + i * pick([3, 4, 5])),
            soft + 5 * normal(),
          );
      }
      if (random() < bassShare) {
        const bass = snap(uniform(26, 48));
        const at = time + (random() < 0.4 ? -uniform(0.02, 0.07) : spread * normal());
        add(at, step * uniform(1, 3), bass, level - uniform(-4, 20), bassVoice);
        if (random() < 0.3)
          add(at + spread * normal(), step * 2, bass + 12, level - uniform(0, 15));
      }
    }
    if (random() < 0.07)
      add(time + uniform(0.05, 0.3), step, snap(uniform(30, 52)), uniform(20, 60));
    time += step;
    if (time - phraseFrom > phraseLength) {
      time += random() < 0.5 ? uniform(0, 2.5) : 0;
      phraseFrom = time;
      phraseLength = uniform(3, 9);
    }
  }

  const kit = pick([40, 40, 40, 32, 0]);
  if (kind === 'trio') {
    const beat = uniform(0.28, 0.8);
    const bassBy = pick([32, 32, 32, 33, 35]);
    const push = 0.02 * normal();
    const jitter = uniform(0.006, 0.025);
    const drumLevel = uniform(30, 85);
    const bassLevel = uniform(45, 90);
    const swing = uniform(0.5, 0.68);
    let at = uniform(0, 1);
    let bass = 40;
    let count = 0;
    let bend = 1;
    while (at < seconds) {
      bend = Math.max(0.7, Math.min(1.4, bend * Math.exp(0.04 * normal())));
      const now = beat * bend;
      bass = Math.max(28, Math.min(55, bass + pick([-5, -3, -2, -1, 1, 2, 3, 5])));
      if (random() < 0.75)
        add(
          at + push + jitter * normal(),
          now * uniform(0.5, 1),
          bass,
          bassLevel + 8 * normal(),
          bassBy,
        );
      if (random() < 0.12)
        add(
          at + push + now * swing,
          now * 0.3,
          bass + pick([0, 12, -1]),
          bassLevel - 18 + 8 * normal(),
          bassBy,
        );
      if (random() < 0.8)
        add(at + jitter * normal(), 0.1, pick([51, 51, 59, 53, 42]), drumLevel + 8 * normal(), -1);
      if (random() < 0.45)
        add(
          at + now * swing + jitter * normal(),
          0.1,
          pick([51, 51, 59, 42]),
          drumLevel - 12 + 8 * normal(),
          -1,
        );
      if (random() < (count % 2 ? 0.7 : 0.25))
        add(at + jitter * normal(), 0.1, pick([38, 40, 44, 44]), drumLevel - 5 + 10 * normal(), -1);
      if (random() < 0.25)
        add(at + jitter * normal(), 0.1, pick([36, 35]), drumLevel - 10 + 10 * normal(), -1);
      if (random() < 0.2) {
        const from = at + now * pick([0.25, 0.33, 0.5, 0.75]);
        const hits = pick([1, 1, 2, 3]);
        for (let i = 0; i < hits; i++)
          add(from + i * uniform(0.06, 0.13), 0.1, pick([38, 40, 37, 45, 48]), uniform(20, 60), -1);
      }
      if (random() < 0.04) add(at - uniform(0.035, 0.07), 0.1, 38, drumLevel - 20, -1);
      if (random() < 0.03) add(at, 0.1, pick([49, 57]), drumLevel + 10, -1);
      at += now;
      count++;
    }
  }
  const pedal: { time: number; down: boolean }[] = [];
  if (program <= 4 && random() < 0.85) {
    const change = uniform(0.8, 4);
    for (let at = uniform(0, 2); at < seconds; at += change * uniform(0.5, 1.5)) {
      pedal.push({ time: at, down: true });
      pedal.push({ time: at + change * 0.95 * uniform(0.3, 0.5), down: false });
    }
  }
  notes.sort((a, b) => a.time - b.time);
  const vibrato = random() < 0.4 ? Math.floor(uniform(20, 127)) : 0;
  return { seed, kind, notes, pedal, kit, seconds, vibrato };
}
