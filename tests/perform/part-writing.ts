import type { Beats, Semitones, Share } from '../../shared/math/units.ts';
import { brushes } from './accompaniment.ts';
import { barsOf, type Cell, fill, type Timed, vocabulary } from './cells.ts';
import type { Chance } from './chance.ts';
import { type Chord, chordOn, nearest, progression, scaleOf, stepAlong } from './harmony.ts';
import { type Part, type Score, type ScoreNote, type ScorePhrase, upToTheNext } from './score.ts';

/**
 * Music in which the parts make the texture, not one pattern under one tune: voices that move together, one after
 * another or each for itself, figures of any shape, tunes below, octaves, runs; in simple and compound metre, with
 * chords that change within the bar or over its line. Common practice, no source.
 */
export interface PartStyle {
  readonly beatsPerBar: number;
  /** A beat has three thirds (6/8 is two of them). */
  readonly compound: boolean;
  readonly drums: boolean;
  /** About how many beats the whole piece has. */
  readonly beats: Beats;
}

/** What a passage is written over. */
interface Ground {
  readonly chance: Chance;
  readonly style: PartStyle;
  readonly bars: number;
  readonly cells: readonly Cell[];
  readonly scale: readonly number[];
  /** The chord that sounds at a place, from its start. */
  readonly chordAt: (at: Beats) => Chord;
}

interface Voice {
  readonly part: Part;
  readonly centre: number;
}

const voices: readonly Voice[] = [
  { part: 'melody', centre: 73 },
  { part: 'chords', centre: 64 },
  { part: 'chords', centre: 57 },
  { part: 'bass', centre: 45 },
];
const [top, alto, tenor, low] = voices;

const note = (
  [at, length]: Timed,
  pitch: number,
  part: Part,
  accent = part === 'melody' ? 0 : -3,
): ScoreNote => ({ at, length, pitch, part, accent });

/** A line for a rhythm: steps and small leaps, mostly chord tones where the chord is new or on the beat. */
function line(ground: Ground, rhythm: readonly Timed[], { part, centre }: Voice): ScoreNote[] {
  const { chance, chordAt, scale } = ground;
  let pitch = nearest(centre + chance.whole(-4, 4), chordAt(0).classes);
  const leaps = part === 'bass' ? 0.5 : chance.between(0.1, 0.3);
  return rhythm.map((timed) => {
    const away = pitch > centre + 6 ? -1 : pitch < centre - 6 ? 1 : chance.pick([-1, 1]);
    const steps = chance.odds(leaps) ? chance.whole(2, 4) : chance.odds(0.15) ? 0 : 1;
    pitch = stepAlong(pitch, away * steps, scale);
    const { root, classes } = chordAt(timed[0]);
    if (part === 'bass' && chance.odds(0.6)) pitch = nearest(pitch, [root]);
    else if (Number.isInteger(timed[0]) && chance.odds(0.75)) pitch = nearest(pitch, classes);
    return note(timed, pitch, part);
  });
}

/** Under each note of a rhythm one of the chord, near a pitch. */
const under = ({ chordAt }: Ground, rhythm: readonly Timed[], { part, centre }: Voice) =>
  rhythm.map((timed) => note(timed, nearest(centre, chordAt(timed[0]).classes), part));

const everyBar = ({ bars, style }: Ground): Timed[] =>
  Array.from({ length: bars }, (_, bar) => [bar * style.beatsPerBar, style.beatsPerBar]);

const rhythmOf = ({ chance, cells, style, bars }: Ground) =>
  barsOf(chance, cells, style.beatsPerBar, bars);

type Slot = 'bass' | 'chord' | 'tone' | 'both' | 'rest';
const slotKinds: readonly Slot[] = [
  'bass',
  'chord',
  'chord',
  'tone',
  'tone',
  'rest',
  'rest',
  'rest',
];

/** What stands at each step of a figure that goes on. */
function slotsOf(chance: Chance, count: number, divide: number): Slot[] {
  const fillWith = (first: Slot, on: Slot, off: Slot) =>
    Array.from({ length: count }, (_, i) => (i === 0 ? first : i % divide === 0 ? on : off));
  const missing = (slots: Slot[], share: Share, from = 0) =>
    slots.map((slot, i): Slot => (i >= from && chance.odds(share) ? 'rest' : slot));
  switch (chance.whole(0, 6)) {
    case 0: // after-beats
      return fillWith('bass', chance.pick(['bass', 'chord', 'rest']), 'chord');
    case 1: // the same chord again and again
      return fillWith(chance.pick(['both', 'chord', 'rest']), 'chord', 'chord');
    case 2: // a broken chord
      return fillWith(chance.pick(['bass', 'bass', 'tone', 'rest']), 'tone', 'tone');
    case 3: // between the beats only
      return fillWith(chance.pick(['bass', 'rest']), 'rest', 'chord');
    case 4: // bass and chord by turns
      return missing(fillWith('bass', chance.pick(['chord', 'both']), 'rest'), 0.2, 1);
    case 5: // a broken chord with holes
      return missing(fillWith('bass', 'tone', 'tone'), 0.35, 1);
    default:
      return Array.from({ length: count }, () => chance.pick(slotKinds));
  }
}

/** An accompaniment that repeats a figure of one beat to two bars. */
function figure(ground: Ground, centre: number): ScoreNote[] {
  const { chance, style, bars, chordAt } = ground;
  const bar = style.beatsPerBar;
  const divide = style.compound ? chance.pick([3, 3, 3, 6, 1]) : chance.pick([1, 2, 2, 2, 3, 4, 4]);
  const beats = chance.pick([1, bar, bar, bar, 2 * bar]);
  const slots = slotsOf(chance, Math.max(2, beats * divide), divide);
  const climbs = chance.pick([1, 2, 3]);
  const short = chance.odds(0.4) ? 0.6 : 1;
  const root = (at: Beats) => nearest(43, [chordAt(at).root]);
  const notes: ScoreNote[] = [];
  let turn = 0;
  for (let i = 0; i < bars * bar * divide; i++) {
    const at = i / divide;
    const slot = slots[i % slots.length];
    const next = slots.findIndex((s, k) => k > i % slots.length && s !== 'rest');
    const steps = (next < 0 ? slots.length : next) - (i % slots.length);
    const timed: Timed = [at, (short * Math.min(steps, 2 * divide)) / divide];
    const accent = i % (divide * bar) === 0 ? 2 : i % divide === 0 ? -3 : -6;
    const tones = [...new Set(chordAt(at).classes.map((c) => nearest(centre, [c])))];
    tones.sort((a, b) => a - b);
    if (slot === 'bass' || slot === 'both') {
      const held = chance.odds(0.5) ? Math.min(bar, bars * bar - at) : timed[1];
      notes.push(note([at, held], root(at), 'bass', accent + 2));
      turn = 0;
    }
    if (slot === 'chord' || slot === 'both')
      notes.push(...tones.map((pitch) => note(timed, pitch, 'chords', accent)));
    if (slot === 'tone') {
      const place = climbs === 3 ? [0, 2, 1, 2][turn % 4] : climbs * turn;
      notes.push(note(timed, tones[place % tones.length], 'chords', accent));
      turn++;
    }
  }
  return notes;
}

/** One voice or all start with the same motif, one after another. */
function imitation(ground: Ground): ScoreNote[] {
  const { chance, style, bars } = ground;
  const whole = bars * style.beatsPerBar;
  const delay = chance.pick([1, 2, style.beatsPerBar, style.beatsPerBar, 2 * style.beatsPerBar]);
  const motif = fill(chance, ground.cells, Math.max(2, delay));
  const order = chance.pick([
    [top, alto, tenor, low],
    [low, tenor, alto, top],
    [top, low],
    [alto, top, low],
  ]);
  return order.flatMap((voice, v) => {
    const from = v * delay;
    if (from >= whole) return [];
    const after = from + Math.max(2, delay);
    const free = fill(chance, ground.cells, Math.max(0, whole - after));
    const rhythm = [
      ...motif.map(([at, length]): Timed => [at + from, length]),
      ...free.map(([at, length]): Timed => [at + after, length]),
    ].filter(([at]) => at < whole - 1e-6);
    return line(ground, rhythm, voice);
  });
}

/** Ways to write a passage. */
const textures: readonly ((ground: Ground) => ScoreNote[])[] = [
  // A tune over a figure, three times as likely as the others.
  ...Array.from({ length: 4 }, () => (ground: Ground) => [
    ...line(ground, rhythmOf(ground), top),
    ...figure(ground, ground.chance.whole(54, 62)),
  ]),
  // The same with the tune below.
  (ground) => [
    ...line(ground, rhythmOf(ground), ground.chance.pick([tenor, low])),
    ...figure(ground, 67).filter(({ part }) => part === 'chords'),
  ],
  // As a hymn: nearly all on the beats, now and then a passing note in one voice.
  (ground) => {
    const { chance, style, bars } = ground;
    const beats = Array.from({ length: bars * style.beatsPerBar }, (_, at): Timed => [at, 1]);
    const joined = beats.filter((_, i) => i === 0 || chance.odds(0.85));
    const rhythm = joined.map(
      ([at], i): Timed => [at, (joined[i + 1]?.[0] ?? bars * style.beatsPerBar) - at],
    );
    const split = style.compound ? 2 / 3 : 0.5;
    return voices.flatMap((voice) => {
      const own = rhythm.flatMap(([at, length]): Timed[] =>
        length === 1 && chance.odds(0.15)
          ? [
              [at, split],
              [at + split, 1 - split],
            ]
          : [[at, length]],
      );
      return line(ground, own, voice);
    });
  },
  // All in the tune's rhythm.
  (ground) => {
    const rhythm = rhythmOf(ground);
    return [
      ...line(ground, rhythm, top),
      ...[alto, tenor].flatMap((voice) => under(ground, rhythm, voice)),
      ...line(ground, rhythm, low),
    ];
  },
  // Each voice for itself.
  (ground) =>
    ground.chance
      .pick([voices, voices, [top, tenor, low], [top, low]])
      .flatMap((voice) => line(ground, rhythmOf(ground), voice)),
  imitation,
  imitation,
  // In octaves.
  (ground) => {
    const tune = line(ground, rhythmOf(ground), { part: 'melody', centre: 67 });
    const below = tune.map((one): ScoreNote => ({ ...one, pitch: one.pitch - 12, part: 'chords' }));
    const deep = tune.map((one): ScoreNote => ({ ...one, pitch: one.pitch - 24, part: 'bass' }));
    return [...tune, ...below, ...(ground.chance.odds(0.5) ? deep : [])];
  },
  // Two voices by turns over held chords, or over nothing.
  (ground) => {
    const { chance, style, bars } = ground;
    const turn = chance.pick([1, 2]) * style.beatsPerBar;
    const whole = rhythmOf(ground);
    const pair = chance.pick([
      [top, low],
      [top, alto],
      [tenor, top],
    ]);
    const lines = pair.map((voice, v) =>
      line(
        ground,
        whole.filter(([at]) => Math.floor(at / turn) % 2 === v),
        voice,
      ),
    );
    const held = chance.odds(0.6) && bars > 1 ? everyBar(ground) : [];
    return [...lines.flat(), ...[alto, tenor].flatMap((voice) => under(ground, held, voice))];
  },
  // A run in one voice, long notes and short ones in the others.
  (ground) => {
    const { chance, style, bars } = ground;
    const divide = style.compound ? chance.pick([3, 6]) : chance.pick([2, 4, 4]);
    const run = Array.from(
      { length: bars * style.beatsPerBar * divide },
      (_, i): Timed => [i / divide, 1 / divide],
    );
    const [runner, other] = chance.pick([
      [top, low],
      [low, top],
      [tenor, top],
    ]);
    const slow = vocabulary(chance, style.compound).filter((cell) => cell.length < 3);
    const rest: Timed[] = barsOf(chance, [[1], ...slow], style.beatsPerBar, bars);
    return [
      ...line(ground, run, runner),
      ...line(ground, rest, other),
      ...(chance.odds(0.5) ? under(ground, rest, alto) : []),
    ];
  },
  // Held chords under a tune, or the tune alone.
  (ground) => [
    ...line(ground, rhythmOf(ground), top),
    ...(ground.chance.odds(0.7)
      ? [alto, tenor, low].flatMap((voice) => under(ground, everyBar(ground), voice))
      : []),
  ],
];

interface Passage {
  readonly bars: number;
  readonly notes: readonly ScoreNote[];
  readonly pickup: Beats;
}

/** How long each chord of a passage lasts. */
function chordLengths(chance: Chance, bar: number, whole: Beats): Beats[] {
  const usual = chance
    .pick([
      ...[[bar], [bar], [2 * bar], [1], [bar - 1, 1], [1, bar - 1]],
      ...[[bar / 2], [2], [bar + 1, bar - 1]],
    ])
    .map((length) => Math.max(1, Math.round(length)));
  const lengths: Beats[] = [];
  for (let sum = 0; sum < whole; ) {
    const length = usual[lengths.length % usual.length];
    lengths.push(length);
    sum += length;
  }
  return lengths;
}

function passage(
  chance: Chance,
  style: PartStyle,
  tonic: number,
  mode: 'major' | 'minor',
  common: readonly Cell[],
): Passage {
  const bars = chance.pick([4, 4, 4, 2, 3, 5, 6, 8]);
  const whole = bars * style.beatsPerBar;
  const lengths = chordLengths(chance, style.beatsPerBar, whole);
  const chords = progression(chance, lengths.length, chance.odds(0.6)).map((step) =>
    chordOn(step, tonic, mode, chance.odds(0.25)),
  );
  const starts = lengths.map((_, i) => lengths.slice(0, i).reduce((sum, one) => sum + one, 0));
  const scale = scaleOf(tonic, mode);
  const ground: Ground = {
    chance,
    style,
    bars,
    cells: chance.odds(0.4) ? common : vocabulary(chance, style.compound),
    scale,
    chordAt: (at) => chords[Math.max(0, starts.filter((start) => start <= at + 1e-6).length - 1)],
  };
  const metric = chance.between(0, 1);
  const level = chance.between(-6, 6);
  const swell = chance.between(-6, 6);
  const sharp = chance.odds(0.2) ? chance.whole(0, style.beatsPerBar - 1) : -1;
  const rests = chance.odds(0.2) ? 'chords' : '';
  const rounded = chance.odds(0.6);
  const written = chance
    .pick(textures)(ground)
    .filter(
      ({ at, part }) => at < whole - 1e-6 && (part !== rests || at % style.beatsPerBar !== 0),
    );
  const last = whole - style.beatsPerBar;
  // Half of the passages come to rest in their last bar.
  const kept = rounded
    ? [
        ...written.filter(({ at }) => at < last),
        ...voices.flatMap((voice) => under(ground, [[last, style.beatsPerBar]], voice)),
      ]
    : written;
  // None is longer than a bar: it would leave nothing of a short passage before it.
  const upbeats = (style.compound ? [1 / 3, 2 / 3, 1] : [0.25, 0.5, 1, 1.5, 2]).filter(
    (length) => length <= style.beatsPerBar,
  );
  const pickup = chance.odds(0.5) ? chance.pick(upbeats) : 0;
  const up: ScoreNote[] = [];
  if (pickup > 0) {
    const rhythm = fill(chance, ground.cells, pickup);
    const from = nearest(top.centre - rhythm.length, scale);
    for (const [i, [at, length]] of rhythm.entries())
      up.push(note([at - pickup, length], stepAlong(from, i, scale), 'melody', -3));
  }
  const notes = [...up, ...kept].map((one) => {
    const place = ((one.at % style.beatsPerBar) + style.beatsPerBar) % style.beatsPerBar;
    const beat = Math.abs(place - Math.round(place)) < 1e-6;
    const stress = place < 1e-6 ? 5 : beat ? 0 : -3;
    const loud = Math.round(place) === sharp && beat ? 9 : 0;
    const long = one.length >= 1 ? 2 : -1;
    const grown = level + (swell * one.at) / whole;
    return { ...one, accent: one.accent + metric * stress + loud + long + grown };
  });
  return { bars, notes, pickup };
}

const forms: readonly (readonly string[])[] = [
  ['a', 'b', 'a', 'c'],
  ['a', 'a', 'b', 'a'],
  ['a', 'b', 'c', 'a'],
  ['a', 'b', 'c', 'd'],
  ['a', 'b', 'b', 'c'],
];

/** Writes a piece of passages, some of which return, at their own pitch or at another. */
export function writeParts(chance: Chance, style: PartStyle): Score {
  const mode = chance.odds(0.6) ? 'major' : 'minor';
  const tonic = chance.whole(0, 11);
  const common = vocabulary(chance, style.compound);
  const spreads = chance.between(0, 0.5);
  const lead = style.beatsPerBar;
  const made = new Map<string, Passage>();
  const notes: ScoreNote[] = [];
  const phrases: ScorePhrase[] = [];
  let at: Beats = lead;
  for (let place = 0, form = chance.pick(forms); at - lead < style.beats; place++) {
    if (place > 0 && place % form.length === 0) form = chance.pick(forms);
    const material = form[place % form.length];
    const known = made.get(material);
    const one = known ?? passage(chance.fork(), style, tonic, mode, common);
    made.set(material, one);
    const semitones: Semitones = known && chance.odds(0.4) ? chance.pick([2, 5, -2, -5, 7, 3]) : 0;
    for (const each of one.notes)
      notes.push({ ...each, at: each.at + at, pitch: each.pitch + semitones });
    const drums = style.drums ? chance.fork() : undefined;
    for (let bar = 0; drums && bar < one.bars; bar++)
      notes.push(...brushes(drums, at + bar * lead, lead, style.compound));
    phrases.push({
      start: at - one.pickup,
      end: at + one.bars * lead,
      material,
      semitones,
    });
    at += one.bars * lead;
  }
  notes.sort((a, b) => a.at - b.at || a.pitch - b.pitch);
  return {
    beatsPerBar: lead,
    firstBar: lead,
    beats: at,
    notes: spreadChords(chance.fork(), withoutDoubles(notes), spreads),
    phrases: upToTheNext(phrases),
    tonic,
    mode,
  };
}

/** A key is struck once at a time. */
function withoutDoubles(notes: readonly ScoreNote[]): ScoreNote[] {
  const struck = new Set<string>();
  return notes.filter(({ at, pitch, part }) => {
    const key = `${part === 'drums'} ${at.toFixed(4)} ${pitch}`;
    if (struck.has(key)) return false;
    struck.add(key);
    return true;
  });
}

/** Some chords under the melody are spread. */
function spreadChords(chance: Chance, notes: readonly ScoreNote[], share: Share): ScoreNote[] {
  const chords = new Map<Beats, ScoreNote[]>();
  for (const one of notes)
    if (one.part === 'chords' || one.part === 'bass')
      chords.set(one.at, [...(chords.get(one.at) ?? []), one]);
  const places = new Map<ScoreNote, { readonly index: number; readonly count: number }>();
  for (const chord of chords.values())
    if (chord.length > 2 && chance.odds(share))
      for (const [index, one] of chord.entries()) places.set(one, { index, count: chord.length });
  return notes.map((one) => {
    const spread = places.get(one);
    return spread ? { ...one, spread } : one;
  });
}
