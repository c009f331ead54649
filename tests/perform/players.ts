import type { Seconds, Share } from '../../shared/math/units.ts';
import type { Chance } from './chance.ts';
import type { Band } from './instruments.ts';
import type { PedalStroke, Performance, PlayedNote, TrueBeat, TruePhrase } from './played.ts';
import { type Freedom, TempoCurve } from './rubato.ts';
import type { Part, Score, ScoreNote } from './score.ts';
import { soundingTime } from './sounding-time.ts';
import { asynchronies, readTrioTiming, trioCount } from './trio-timing.ts';

/** What the players do on top of the group's time. */
export interface Habits {
  /** How far the melody comes before what is struck with it (Goebl 2001, JASA 110(1): about 30 ms at most). */
  readonly melodyLead: Seconds;
  /** Deviation of each note from its place. */
  readonly jitter: Seconds;
  /** How much the others are late on the leader when they follow. */
  readonly lag: Seconds;
  /** Most time between two notes of a spread chord. */
  readonly spread: Seconds;
  /** Share of chords (not only those written so) that are spread. */
  readonly spreads: Share;
  /** Share of the beat that the first half gets: 0.5 even. */
  readonly swing: Share;
  /** Deviation of a slow sway of the melody against its accompaniment (rubato in the old sense). */
  readonly sway: Seconds;
  readonly pedal: boolean;
  /** Mean MIDI velocity of the melody. */
  readonly velocity: number;
}

const partLevel: Record<Part, number> = { melody: 6, chords: -10, bass: -4, drums: -8 };

/** Plays a score. */
export function perform(
  chance: Chance,
  score: Score,
  band: Band,
  freedom: Freedom,
  habits: Habits,
): Performance {
  const curve = new TempoCurve(chance.fork(), score, freedom);
  const first = Math.min(...score.notes.map((note) => note.at));
  const start = curve.timeAt(first) - chance.between(0.15, 1.2);
  const swung = (at: number): number => {
    if (habits.swing === 0.5) return at;
    const whole = Math.floor(at);
    const inside = at - whole;
    // Written thirds (2/3) are swung already; halves move to the swing share.
    if (Math.abs(inside - 0.5) < 0.01 || Math.abs(inside - 2 / 3) < 0.02)
      return whole + habits.swing;
    return at;
  };
  const time = (at: number): Seconds => curve.timeAt(swung(at)) - start;
  const jitters = partJitters(chance.fork(), habits.jitter);
  const played = playNotes(chance.fork(), score, band, habits, time, jitters);
  const notes = played.map(({ note }) => note).sort((a, b) => a.time - b.time);
  const sounding = soundingTime(
    played.flatMap(({ written, note }) =>
      (written.ornament ?? 0) === 0 ? [{ at: written.at, time: note.time }] : [],
    ),
  );
  const beats: TrueBeat[] = [];
  const lastNote = Math.max(...score.notes.map((note) => note.at));
  for (let beat = Math.ceil(first - 1e-9); beat <= lastNote + 1e-9; beat++) {
    const inBar =
      (((beat - score.firstBar) % score.beatsPerBar) + score.beatsPerBar) % score.beatsPerBar;
    beats.push({ time: sounding(beat), count: inBar + 1 });
  }
  const typical = (beats.at(-1)?.time ?? 1) / Math.max(1, beats.length);
  const otherBeats =
    typical < 0.45
      ? beats.filter((beat) => beat.count % 2 === 1).map((beat) => beat.time)
      : halves(
          beats.map((beat) => beat.time),
          (i) => sounding(Math.ceil(first - 1e-9) + i + 0.5),
        );
  const end = Math.max(...notes.map((note) => note.time + note.seconds));
  return {
    seconds: end + chance.between(0.8, 2),
    notes,
    pedal: habits.pedal ? pedalling(chance.fork(), score, time) : [],
    beats,
    otherBeats,
    phrases: truePhrases(score, (at) => curve.timeAt(at) - start, notes),
    tonic: score.tonic,
    mode: score.mode,
  };
}

function halves(beats: readonly Seconds[], half: (index: number) => Seconds): Seconds[] {
  return beats.flatMap((beat, i) => (i + 1 < beats.length ? [beat, half(i)] : [beat]));
}

/** Real runs of asynchrony, one for each part, scaled to the wanted deviation. */
function partJitters(chance: Chance, deviation: Seconds): Record<Part, (index: number) => Seconds> {
  const run = (player: 'piano' | 'bass' | 'drums'): ((index: number) => Seconds) => {
    const real = asynchronies(readTrioTiming(chance.whole(1, trioCount)), player);
    const power = real.reduce((sum, x) => sum + x * x, 0) / Math.max(1, real.length);
    const scale = deviation / Math.sqrt(power || 1);
    const from = chance.whole(0, real.length);
    return (index) => (real[(from + index) % real.length] ?? 0) * scale;
  };
  return { melody: run('piano'), chords: run('piano'), bass: run('bass'), drums: run('drums') };
}

function playNotes(
  chance: Chance,
  score: Score,
  band: Band,
  habits: Habits,
  time: (at: number) => Seconds,
  jitters: Record<Part, (index: number) => Seconds>,
): { readonly written: ScoreNote; readonly note: PlayedNote }[] {
  const counts: Record<Part, number> = { melody: 0, chords: 0, bass: 0, drums: 0 };
  const gaps = new Map<number, Seconds>();
  const shifts = new Map<string, Seconds>();
  const accompanied = new Set(score.notes.filter((n) => n.part !== 'melody').map((n) => n.at));
  let sway = 0;
  let loudness = 0;
  return score.notes.map((note) => {
    const key = `${note.part} ${note.at}`;
    // One hand moves as one: notes struck together share their part's deviation.
    const shared = shifts.get(key) ?? jitters[note.part](counts[note.part]++);
    if (!shifts.has(key)) {
      shifts.set(key, shared);
      if (note.part === 'melody') sway = 0.8 * sway + chance.normal(0, habits.sway * 0.6);
      loudness = 0.9 * loudness + chance.normal(0, 2.5);
    }
    let at = time(note.at) + shared + chance.normal(0, 0.003);
    if (note.part === 'melody') {
      at += sway;
      if (accompanied.has(note.at)) at -= habits.melodyLead * chance.between(0.2, 1.3);
    } else if (band[note.part] !== band.melody) at += habits.lag * chance.between(0, 1.5);
    at += spreadTime(chance, note, habits, gaps);
    if (note.ornament !== undefined) {
      at += note.ornament < 0 ? -chance.between(0.045, 0.11) : note.ornament * 0.083;
    }
    const written = time(note.at + note.length) - time(note.at);
    const held = note.length < 0.2 ? 0.12 : written * chance.between(0.8, 1.02);
    const velocity = Math.round(
      habits.velocity + partLevel[note.part] + note.accent + loudness + chance.normal(0, 4),
    );
    const played: PlayedNote = {
      time: Math.max(0.01, at),
      seconds: Math.max(0.06, held),
      pitch: note.pitch,
      velocity: Math.max(22, Math.min(112, velocity)),
      part: note.part,
      instrument: band[note.part],
    };
    return { written: note, note: played };
  });
}

/** How long after the chord's first note this one comes; half the time the top note is on the beat. */
function spreadTime(
  chance: Chance,
  note: ScoreNote,
  habits: Habits,
  gaps: Map<number, Seconds>,
): Seconds {
  if (!note.spread || habits.spread === 0) return 0;
  const known = gaps.get(note.at);
  const gap =
    known ??
    (chance.odds(habits.spreads) ? chance.between(0.005, habits.spread) : 0) *
      (chance.odds(0.5) ? 1 : -1);
  gaps.set(note.at, gap);
  const place = gap < 0 ? note.spread.count - 1 - note.spread.index : note.spread.index;
  return gap < 0 ? -place * -gap : place * gap;
}

/** Pedal changed with the harmony: up as the new chord is struck, down again just after. */
function pedalling(chance: Chance, score: Score, time: (at: number) => Seconds): PedalStroke[] {
  const strokes: PedalStroke[] = [];
  for (let bar = score.firstBar; bar < score.beats; bar += score.beatsPerBar) {
    const down = time(bar) + chance.between(0.06, 0.16);
    const up = time(Math.min(score.beats, bar + score.beatsPerBar)) + chance.between(0, 0.04);
    if (chance.odds(0.85) && up - down > 0.1) strokes.push({ down, up });
  }
  return strokes;
}

function truePhrases(
  score: Score,
  time: (at: number) => Seconds,
  notes: readonly PlayedNote[],
): TruePhrase[] {
  return score.phrases.map((phrase, index) => {
    const earlier = score.phrases.findIndex((p, i) => i < index && p.material === phrase.material);
    const from = score.phrases[earlier];
    // A phrase starts with its first sound.
    const near = notes.find((note) => note.time > time(phrase.start) - 0.12);
    const start = near && near.time < time(phrase.start) + 1 ? near.time : time(phrase.start);
    return {
      start,
      end: time(phrase.end),
      material: phrase.material,
      ...(from && { like: { phrase: earlier, semitones: phrase.semitones - from.semitones } }),
    };
  });
}
