import { Chance } from './chance.ts';
import type { Style } from './compose.ts';
import { compose } from './compose.ts';
import { withBassPlayer } from './follow.ts';
import { type Band, band } from './instruments.ts';
import { dry, type Place } from './place.ts';
import type { Performance } from './played.ts';
import { type Habits, perform } from './players.ts';
import { oldRecord, type Session } from './record.ts';
import type { Freedom } from './rubato.ts';
import { steadyTrio } from './steady-trio.ts';
import { trioCount } from './trio-timing.ts';
import type { Kind } from './truth.ts';

/** `dev` is for tuning; `check` is looked at for reports only. */
export type SetName = 'dev' | 'check' | 'lessons';

const pianoTextures: Style['textures'] = [
  'blocks',
  'rolled',
  'broken',
  'broken',
  'wide',
  'wide',
  'waltz',
  'repeated',
  'sparse',
  'runs',
  'held',
  'alone',
  'syncopated',
  'broken',
  'wide',
];

export function styleFor(chance: Chance, kind: Kind, bpm: number): Style {
  const trio = kind === 'trio';
  const triple = chance.odds(0.25);
  const beatsPerBar = trio ? chance.pick([4, 4, 3]) : chance.pick([4, 4, 3, 3, 2]);
  return {
    beatsPerBar,
    textures: trio
      ? ['walking', 'walking', 'held', 'sparse', 'rolled', 'blocks', 'syncopated']
      : pianoTextures,
    liveliness: triple
      ? ['triple', 'slow']
      : bpm > 95
        ? ['slow', 'even']
        : ['slow', 'even', 'busy'],
    triple,
    drums: trio,
    swing: trio,
    ornaments: trio ? 0.05 : 0.14,
    beats: Math.round((chance.between(36, 50) * bpm) / 60 / (kind === 'extreme' ? 1.35 : 1.12)),
  };
}

export const freedoms: Record<Exclude<Kind, 'steady'>, Omit<Freedom, 'bpm'>> = {
  piano: {
    arch: 0.22,
    finalSpeed: 0.4,
    agogic: 0.09,
    ritenuto: 0.28,
    pauses: 0.35,
    pauseBeats: 0.9,
    fermatas: 0.015,
    drift: 0.09,
    surges: 0.12,
  },
  trio: {
    arch: 0.16,
    finalSpeed: 0.5,
    agogic: 0.05,
    ritenuto: 0.2,
    pauses: 0.25,
    pauseBeats: 0.6,
    fermatas: 0.008,
    drift: 0.06,
    surges: 0.08,
  },
  extreme: {
    arch: 0.36,
    finalSpeed: 0.3,
    agogic: 0.16,
    ritenuto: 0.45,
    pauses: 0.7,
    pauseBeats: 2.2,
    fermatas: 0.06,
    drift: 0.17,
    surges: 0.75,
  },
  ensemble: {
    arch: 0.18,
    finalSpeed: 0.45,
    agogic: 0.07,
    ritenuto: 0.22,
    pauses: 0.4,
    pauseBeats: 0.9,
    fermatas: 0.01,
    drift: 0.07,
    surges: 0.1,
  },
};

function habitsFor(chance: Chance, kind: Kind): Habits {
  const trio = kind === 'trio';
  return {
    melodyLead: trio ? 0.012 : chance.between(0.01, 0.035),
    jitter: chance.between(0.008, trio ? 0.018 : 0.016),
    lag: trio ? chance.between(0.004, 0.028) : kind === 'ensemble' ? 0.015 : 0,
    spread: chance.between(0.02, kind === 'extreme' ? 0.08 : 0.055),
    spreads: kind === 'extreme' ? 0.85 : 0.7,
    swing: trio ? chance.between(0.56, 0.68) : 0.5,
    sway: trio ? 0.01 : kind === 'extreme' ? 0.035 : 0.018,
    pedal: kind !== 'ensemble',
    velocity: chance.whole(44, 72),
  };
}

const pianos = ['grand piano', 'grand piano', 'bright piano', 'electric grand', 'upright piano'];
const basses = ['double bass', 'double bass', 'fretless bass', 'finger bass'];
const kits = ['brushes', 'brushes', 'sticks', 'plain kit'];
const ensembles: readonly [string, string, string][] = [
  ['violin', 'viola', 'cello'],
  ['flute', 'clarinet', 'bassoon'],
  ['nylon guitar', 'nylon guitar', 'nylon guitar'],
  ['clarinet', 'grand piano', 'cello'],
  ['hollow guitar', 'hollow guitar', 'double bass'],
  ['oboe', 'harp', 'bowed bass'],
  ['alto saxophone', 'electric piano', 'double bass'],
  ['vibraphone', 'marimba', 'double bass'],
  ['trumpet', 'horn', 'cello'],
  ['steel guitar', 'steel guitar', 'finger bass'],
];

function bandFor(chance: Chance, kind: Kind, number: number): Band {
  const piano = chance.pick(pianos);
  if (kind === 'trio' || kind === 'steady') {
    return band(piano, piano, chance.pick(basses), chance.pick(kits));
  }
  if (kind !== 'ensemble') return band(piano);
  const [melody, chords, bass] = ensembles[number % ensembles.length] ?? [
    'violin',
    'viola',
    'cello',
  ];
  return band(melody, chords, bass);
}

/** Dry, a room, or a worn tape; the plain digital recording is the commonest. */
function placeFor(chance: Chance): Place {
  const hiss = chance.between(-90, -66);
  const kind = chance.whole(0, 5);
  if (kind <= 2) return { ...dry, hiss };
  const room = { ...dry, hiss, room: chance.between(0.3, 1.1), wet: chance.between(0.15, 0.6) };
  return kind === 3 ? { ...room, wow: chance.between(0.0008, 0.002), hiss: -62 } : room;
}

function sessionFor(
  set: SetName,
  kind: Kind,
  number: number,
  harder = number > plainer[set][kind],
): Session {
  const order = ['piano', 'trio', 'extreme', 'steady', 'ensemble'].indexOf(kind);
  const seed = (set === 'dev' ? 1000 : set === 'lessons' ? 3000 : 7000) + order * 100 + number;
  const chance = new Chance(seed);
  const cents = Math.round(chance.pick([0, 0, chance.between(-12, 12), chance.between(-35, 35)]));
  const players = bandFor(chance, kind, number + (set === 'check' ? 5 : 0));
  let performance: Performance;
  if (kind === 'steady') {
    // Odd excerpts for one set, even for the other: no timing is in both.
    const excerpt = (number * 10 + (set === 'check' ? 2 : 1)) % trioCount;
    performance = steadyTrio(chance, excerpt || trioCount, chance.between(0, 4), 40, players);
  } else {
    const bpm = chance.between(kind === 'piano' ? 56 : 70, 132);
    const following = harder && kind === 'trio';
    // Followers play along with a solo pianist's piece, in a solo pianist's time.
    const style = { ...styleFor(chance, following ? 'piano' : kind, bpm), drums: kind === 'trio' };
    const written = compose(chance.fork(), style);
    const score = following ? withBassPlayer(chance.fork(), written) : written;
    const freedom = following
      ? { ...freedoms.piano, bpm }
      : { ...freer(freedoms[kind], harder ? 1.3 : 1), bpm };
    performance = perform(chance.fork(), score, players, freedom, habitsFor(chance, kind));
  }
  return {
    name: `${kind}-${String(number).padStart(2, '0')}`,
    kind,
    seed,
    performance,
    cents,
    place: placeFor(chance),
    sampled: number % 5 !== 4,
  };
}

const sizes: Record<SetName, Record<Kind, number>> = {
  dev: { piano: 12, trio: 10, extreme: 9, steady: 5, ensemble: 6 },
  lessons: { piano: 20, trio: 16, extreme: 12, steady: 14, ensemble: 14 },
  check: { piano: 7, trio: 6, extreme: 4, steady: 4, ensemble: 4 },
};

/** How many of each kind are plainer; the rest are freer still, and trios follow a solo pianist. */
const plainer: Record<SetName, Record<Kind, number>> = {
  dev: { piano: 9, trio: 6, extreme: 6, steady: 5, ensemble: 6 },
  lessons: { piano: 14, trio: 9, extreme: 8, steady: 14, ensemble: 14 },
  check: { piano: 4, trio: 2, extreme: 2, steady: 4, ensemble: 4 },
};

function freer(freedom: Omit<Freedom, 'bpm'>, by: number): Omit<Freedom, 'bpm'> {
  return {
    ...freedom,
    arch: freedom.arch * by,
    agogic: freedom.agogic * by,
    drift: freedom.drift * by,
    fermatas: freedom.fermatas * by,
    surges: Math.min(1, freedom.surges * by * by),
  };
}

/** All recordings of a set. */
export function* sessionsOf(set: SetName): Generator<Session> {
  for (const [kind, count] of Object.entries(sizes[set]) as [Kind, number][]) {
    for (let number = 1; number <= count; number++) yield sessionFor(set, kind, number);
  }
}

/** A further lesson of a kind, from 1; every third is freer. */
export function lesson(kind: Kind, number: number): Session {
  return {
    ...sessionFor('lessons', kind, number, number % 3 === 0),
    name: `lesson-${kind}-${number}`,
  };
}

/** The same session heard from an old record. */
export function asOldRecord(session: Session): Session {
  return { ...session, name: `${session.name}-old`, place: oldRecord };
}

/** A short performance for tests in process, by our own synthesis. */
export function smallSession(kind: Exclude<Kind, 'steady'>, seed: number, beats = 16): Session {
  const chance = new Chance(seed);
  const bpm = chance.between(70, 100);
  const style = { ...styleFor(chance, kind, bpm), beats };
  const score = compose(chance.fork(), style);
  const players = bandFor(chance, kind, seed);
  const freedom = { ...freedoms[kind], bpm };
  const performance = perform(chance.fork(), score, players, freedom, habitsFor(chance, kind));
  return {
    name: `small-${kind}-${seed}`,
    kind,
    seed,
    performance,
    cents: 0,
    place: dry,
    sampled: false,
  };
}
