import type { Bpm } from '../../../shared/math/units.ts';
import type { Texture } from '../../perform/accompaniment.ts';
import { Chance } from '../../perform/chance.ts';
import { compose } from '../../perform/compose.ts';
import { band } from '../../perform/instruments.ts';
import { writeParts } from '../../perform/part-writing.ts';
import { dry } from '../../perform/place.ts';
import type { Performance } from '../../perform/played.ts';
import { perform } from '../../perform/players.ts';
import type { Session } from '../../perform/record.ts';
import type { Score } from '../../perform/score.ts';
import { steadyTrio } from '../../perform/steady-trio.ts';
import { trioCount } from '../../perform/trio-timing.ts';

export type PracticeKind = 'piano' | 'trio' | 'extreme' | 'steady';
export const practiceKinds: readonly PracticeKind[] = ['piano', 'trio', 'extreme', 'steady'];

/** Pieces end here. */
const SECONDS = 60;

const textures: readonly Texture[] = [
  'broken',
  'broken',
  'wide',
  'wide',
  'broken',
  'repeated',
  'runs',
  'stride',
  'waltz',
  'blocks',
  'held',
  'syncopated',
];

/** The same music counted in another unit: what was `factor` beats is one. */
function recounted(score: Score, factor: number): Score {
  if (factor === 1) return score;
  const beatsPerBar = Math.max(1, Math.round(score.beatsPerBar * factor));
  return {
    ...score,
    beatsPerBar,
    firstBar: score.firstBar * factor,
    beats: score.beats * factor,
    notes: score.notes.map((note) => ({
      ...note,
      at: note.at * factor,
      length: note.length * factor,
    })),
    phrases: score.phrases.map((phrase) => ({
      ...phrase,
      start: phrase.start * factor,
      end: phrase.end * factor,
    })),
  };
}

function cutAt(performance: Performance, seconds: number): Performance {
  if (performance.seconds <= seconds) return performance;
  const until = seconds - 0.5;
  return {
    ...performance,
    seconds,
    notes: performance.notes.filter((note) => note.time < until),
    beats: performance.beats.filter((beat) => beat.time < until),
    otherBeats: performance.otherBeats.filter((beat) => beat < until),
  };
}

/**
 * Performances to fit beats on, apart from the development and check sets: freer in metre, texture,
 * tempo and in which note value is the beat, since nothing tells beforehand what a take will be.
 */
export function practicePiece(kind: PracticeKind, number: number): Session {
  const seed = 7000 + number * 13 + (practiceKinds.indexOf(kind) + 1) * 100_000;
  const chance = new Chance(seed);
  const trio = kind === 'trio';
  const session = { name: `practice-${kind}-${number}`, seed, cents: 0, place: dry, sampled: true };
  if (kind === 'steady') {
    const players = band('grand piano', 'grand piano', 'double bass', 'brushes');
    const excerpt = ((number - 1) % trioCount) + 1;
    const performance = steadyTrio(chance, excerpt, 0, SECONDS, players);
    return { ...session, kind, performance };
  }
  const factor = chance.pick([1, 1, 1, 1, 1, 2, 0.5]);
  const written = compose(chance.fork(), {
    beatsPerBar: chance.pick([2, 3, 3, 4, 4, 4, 6]),
    textures: trio ? [...textures, 'walking', 'walking'] : textures,
    liveliness: chance.pick([['slow', 'even'], ['even', 'busy'], ['busy'], ['triple', 'even']]),
    triple: chance.odds(0.3),
    drums: trio,
    swing: false,
    ornaments: chance.pick([0, 0.1, 0.25]),
    beats: 120,
  });
  const bpm = chance.between(55, 115) * (factor === 2 ? 1.7 : factor === 0.5 ? 0.6 : 1);
  return { ...session, kind, performance: played(chance, kind, recounted(written, factor), bpm) };
}

/**
 * Further performances, of music in parts (tests/perform/part-writing.ts), played as freely as the others:
 * in two of five the beat has three thirds. Slow ones of those are now and then counted in the thirds.
 */
export function partsPiece(kind: 'piano' | 'trio' | 'extreme', number: number): Session {
  const seed = 3_000_000 + number * 13 + (practiceKinds.indexOf(kind) + 1) * 100_000;
  const chance = new Chance(seed);
  const compound = chance.odds(0.4);
  const factor = compound && chance.odds(0.2) ? 3 : 1;
  const written = writeParts(chance.fork(), {
    beatsPerBar: chance.pick(compound ? [2, 2, 2, 4, 3, 1] : [2, 2, 3, 3, 4, 4, 4]),
    compound,
    drums: kind === 'trio' && chance.odds(0.7),
    beats: 150 / factor,
  });
  const bpm = compound
    ? factor === 3
      ? chance.between(80, 140)
      : chance.between(44, 112)
    : chance.between(46, 135);
  const session = { name: `parts-${kind}-${number}`, seed, cents: 0, place: dry, sampled: true };
  return { ...session, kind, performance: played(chance, kind, recounted(written, factor), bpm) };
}

/** Plays a score as freely as a kind is played. */
function played(
  chance: Chance,
  kind: 'piano' | 'trio' | 'extreme',
  score: Score,
  bpm: Bpm,
): Performance {
  const trio = kind === 'trio';
  const extreme = kind === 'extreme';
  const between = (low: number, high: number) => chance.between(low, high);
  const freely = (low: number, high: number, wild: number) => between(low, extreme ? wild : high);
  const performance = perform(
    chance.fork(),
    score,
    trio ? band('grand piano', 'grand piano', 'double bass') : band('grand piano'),
    {
      bpm,
      arch: freely(trio ? 0.05 : 0.1, trio ? 0.2 : 0.28, 0.4),
      finalSpeed: between(0.35, 0.6),
      agogic: freely(0.01, trio ? 0.06 : 0.12, 0.2),
      ritenuto: freely(0.05, trio ? 0.25 : 0.35, 0.5),
      pauses: freely(0, trio ? 0.2 : 0.3, 0.6),
      pauseBeats: freely(0.5, 1.2, 2.5),
      fermatas: trio ? 0 : freely(0, 0.02, 0.05),
      drift: freely(0.02, trio ? 0.07 : 0.13, 0.25),
      surges: freely(0, trio ? 0.15 : 0.3, 0.9),
    },
    {
      melodyLead: between(0, 0.03),
      jitter: between(0.006, 0.02),
      lag: trio ? between(0, 0.02) : 0,
      spread: between(0.01, 0.09),
      spreads: between(0.1, 0.6),
      swing: 0.5,
      sway: between(0, extreme ? 0.05 : 0.025),
      pedal: chance.odds(0.8),
      velocity: between(50, 80),
    },
  );
  return cutAt(performance, SECONDS);
}
