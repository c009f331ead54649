import { accompany, brushes, type Texture } from './accompaniment.ts';
import type { Chance } from './chance.ts';
import { chordOn, progression, scaleOf, stepAlong } from './harmony.ts';
import { type Liveliness, melodyOver } from './melody.ts';
import { type Score, type ScoreNote, type ScorePhrase, upToTheNext } from './score.ts';

/** What sort of piece is written. */
export interface Style {
  readonly beatsPerBar: number;
  readonly textures: readonly Texture[];
  readonly liveliness: readonly Liveliness[];
  readonly triple: boolean;
  readonly drums: boolean;
  readonly swing: boolean;
  /** Share of long melody notes with a grace note, turn or trill. */
  readonly ornaments: number;
  /** About how many beats the whole piece has. */
  readonly beats: number;
}

interface Material {
  readonly bars: number;
  readonly notes: readonly ScoreNote[];
  readonly pickup: number;
}

/** Order of materials and how far (in semitones) a return lies from the first showing. */
const forms: readonly (readonly [string, number | 'up'])[][] = [
  [
    ['a', 0],
    ['b', 0],
    ['a', 0],
    ['c', 0],
  ],
  [
    ['a', 0],
    ['a', 'up'],
    ['b', 0],
    ['a', 0],
  ],
  [
    ['a', 0],
    ['b', 0],
    ['c', 0],
    ['a', 'up'],
  ],
  [
    ['a', 0],
    ['b', 0],
    ['a', 'up'],
    ['b', 'up'],
  ],
  [
    ['a', 0],
    ['b', 0],
    ['c', 0],
    ['d', 0],
  ],
];

function material(chance: Chance, style: Style, tonic: number, mode: 'major' | 'minor'): Material {
  const bars = chance.pick([4, 4, 4, 3, 5, 6]);
  const texture = chance.pick(style.textures);
  const liveliness = texture === 'runs' ? 'busy' : chance.pick(style.liveliness);
  const chords = progression(chance, bars, chance.odds(0.6)).map((step) =>
    chordOn(step, tonic, mode, chance.odds(style.swing ? 0.8 : 0.2)),
  );
  const scale = scaleOf(tonic, mode);
  const beats = style.beatsPerBar;
  const notes = melodyOver(
    chance,
    chords,
    scale,
    beats,
    liveliness,
    chance.whole(70, 77),
    style.ornaments,
  );
  chords.forEach((chord, bar) => {
    const place = { chord, start: bar * beats, beats, triple: style.triple };
    const thin = bar === chords.length - 1 && texture !== 'walking';
    notes.push(...accompany(chance, thin ? 'rolled' : texture, place));
  });
  const pickup = chance.pick([0, 0, 0.5, 1, 1]);
  const first = notes.find((note) => note.part === 'melody');
  if (first && pickup > 0) {
    const count = pickup === 1 ? chance.whole(1, 2) : 1;
    for (let i = 0; i < count; i++) {
      const pitch = stepAlong(first.pitch, i - count, scale);
      const length = pickup / count;
      notes.push({ at: i * length - pickup, length, pitch, part: 'melody', accent: -3 });
    }
  }
  return { bars, notes, pickup };
}

/** Writes a piece: phrases of a few bars, some of which return, higher or at their own pitch. */
export function compose(chance: Chance, style: Style): Score {
  const mode = chance.odds(0.6) ? 'major' : 'minor';
  const tonic = chance.whole(0, 11);
  const up = chance.pick([2, 2, 1, 3, 5, -2]);
  const materials = new Map<string, Material>();
  const notes: ScoreNote[] = [];
  const phrases: ScorePhrase[] = [];
  const lead = style.beatsPerBar;
  let at = lead;
  let form = chance.pick(forms);
  let place = 0;
  while (at - lead < style.beats) {
    const [name, shift] = form[place % form.length] ?? ['a', 0];
    if (++place % form.length === 0) form = chance.pick(forms.slice(0, 4));
    const semitones = shift === 'up' ? up : shift;
    const made = materials.get(name) ?? material(chance.fork(), style, tonic, mode);
    materials.set(name, made);
    const drums = style.drums ? chance.fork() : undefined;
    for (const note of made.notes) {
      notes.push({ ...note, at: note.at + at, pitch: note.pitch + semitones });
    }
    for (let bar = 0; drums && bar < made.bars; bar++) {
      notes.push(...brushes(drums, at + bar * style.beatsPerBar, style.beatsPerBar, style.swing));
    }
    const end = at + made.bars * style.beatsPerBar;
    phrases.push({ start: at - made.pickup, end, material: name, semitones });
    at = end;
  }
  notes.sort((a, b) => a.at - b.at || a.pitch - b.pitch);
  return {
    beatsPerBar: style.beatsPerBar,
    firstBar: lead,
    beats: at,
    notes,
    phrases: upToTheNext(phrases),
    tonic,
    mode,
  };
}
