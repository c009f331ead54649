import type { Seconds } from '../../shared/math/units.ts';
import { drum } from './accompaniment.ts';
import type { Chance } from './chance.ts';
import { type Chord, chordOn, nearest, progression, scaleOf, stepAlong } from './harmony.ts';
import type { Band } from './instruments.ts';
import type { Performance, PlayedNote, TrueBeat, TruePhrase } from './played.ts';
import { readTrioTiming } from './trio-timing.ts';

/**
 * A piano trio with the timing of real players: onsets and beats as annotated, pitches and
 * velocities invented over chords of our own.
 *
 * @param number the excerpt, 1 to 28
 * @param from where to start in it
 */
export function steadyTrio(
  chance: Chance,
  number: number,
  from: Seconds,
  seconds: Seconds,
  band: Band,
): Performance {
  const timing = readTrioTiming(number);
  const lead = chance.between(0.1, 0.8);
  const inside = (time: Seconds): boolean => time >= from && time < from + seconds;
  const beats: TrueBeat[] = [];
  timing.beats.forEach((time, i) => {
    const count = Number((timing.beatLabels[i] ?? '0.1').split('.')[1]);
    if (inside(time)) beats.push({ time: time - from + lead, count });
  });
  const mode = chance.odds(0.5) ? 'major' : 'minor';
  const tonic = chance.whole(0, 11);
  const bars = 1 + beats.filter((beat) => beat.count === 1).length;
  const chords = progression(chance, bars, true).map((step) => chordOn(step, tonic, mode, true));
  const scale = scaleOf(tonic, mode);
  const place = (time: Seconds): { chord: Chord; inBeat: number; count: number } => {
    let i = 0;
    while (i + 1 < beats.length && (beats[i + 1]?.time ?? 0) <= time + 0.03) i++;
    const bar = beats.slice(0, i + 1).filter((beat) => beat.count === 1).length;
    const here = beats[i]?.time ?? 0;
    const next = beats[i + 1]?.time ?? here + 0.4;
    const chord = chords[bar] ?? chordOn(0, tonic, mode, true);
    return { chord, inBeat: (time - here) / (next - here), count: beats[i]?.count ?? 1 };
  };
  const notes: PlayedNote[] = [];
  const add = (
    time: Seconds,
    length: Seconds,
    pitch: number,
    velocity: number,
    part: PlayedNote['part'],
  ): void => {
    notes.push({
      time,
      seconds: length,
      pitch,
      velocity: Math.round(Math.max(22, Math.min(112, velocity))),
      part,
      instrument: band[part],
    });
  };
  const each = (list: readonly Seconds[], play: (time: Seconds, gap: Seconds) => void): void => {
    const here = list.filter(inside).map((time) => time - from + lead);
    here.forEach((time, i) => {
      play(time, Math.min(2, (here[i + 1] ?? time + 0.8) - time));
    });
  };
  let melody = chance.whole(68, 76);
  let level = 0;
  each(timing.piano, (time, gap) => {
    const { chord } = place(time);
    level = 0.8 * level + chance.normal(0, 4);
    if (gap > 0.28 && chance.odds(0.55)) {
      for (const c of chord.classes) {
        const late = chance.between(0, 0.008);
        add(time + late, gap * 0.7, nearest(57, [c]), 58 + level + chance.normal(0, 4), 'chords');
      }
      if (chance.odds(0.5)) return;
    }
    melody = stepAlong(melody, chance.pick([-2, -1, -1, 1, 1, 2]), scale);
    if (melody > 86 || melody < 62) melody = 72;
    add(time, gap * 0.95, melody, 70 + level + chance.normal(0, 6), 'melody');
  });
  let low = 40;
  each(timing.bass, (time, gap) => {
    const { chord, inBeat, count } = place(time);
    const near = inBeat < 0.2 && count === 1;
    low = near ? nearest(40, [chord.root]) : nearest(low + chance.whole(-4, 4), chord.classes);
    if (low < 29 || low > 52) low = 40;
    add(time, gap * 0.92, low, (inBeat > 0.3 ? 50 : 68) + chance.normal(0, 5), 'bass');
  });
  each(timing.drums, (time) => {
    const { inBeat, count } = place(time);
    const on = inBeat < 0.2 || inBeat > 0.9;
    if (on && count % 2 === 0) add(time, 0.2, drum.hat, 62 + chance.normal(0, 6), 'drums');
    const tap = !on && chance.odds(0.15);
    const pitch = tap ? drum.tap : drum.ride;
    add(
      time + chance.between(0, 0.003),
      0.2,
      pitch,
      (on ? 66 : tap ? 40 : 52) + chance.normal(0, 6),
      'drums',
    );
  });
  notes.sort((a, b) => a.time - b.time);
  const times = beats.map((beat) => beat.time);
  const phrases: TruePhrase[] = [
    { start: notes[0]?.time ?? 0, end: lead + seconds, material: 'a' },
  ];
  return {
    seconds: lead + seconds + 1.5,
    notes,
    pedal: [],
    beats,
    otherBeats: beats.filter((beat) => beat.count % 2 === 1).map((beat) => beat.time),
    phrases: times.length > 1 ? phrases : [],
    tonic,
    mode,
  };
}
