import type { Beats, Seconds, Share } from '../shared/math/units.ts';
import { makeChance } from './chance.ts';
import { type Player, playerOrder } from './names.ts';
import { levelAt, midiOf, readBars, type Token } from './notation.ts';
import { beatsPerBar, type PhraseScore, score } from './score.ts';
import { type FreeTime, planTime } from './timing.ts';

/** One note or stroke as it is played. */
export interface PlayedNote {
  readonly player: Player;
  readonly phrase: number;
  /** When the player sets it off. */
  readonly time: Seconds;
  /** When the player lets go of it. */
  readonly until: Seconds;
  /** How hard, 0 to 1: 0.1 is hardly touched. */
  readonly level: Share;
  /** MIDI note number; absent for strokes. */
  readonly midi?: number;
  /** The stroke's letter in the score's shorthand; absent for notes. */
  readonly stroke?: string;
  readonly slurred: boolean;
}

export interface Performance {
  readonly time: FreeTime;
  /** In the order of time. */
  readonly notes: readonly PlayedNote[];
}

/** How late each player follows the leader, and how unevenly, in seconds. */
const following: Record<Player, { late: Seconds; uneven: Seconds }> = {
  guitar: { late: 0, uneven: 0.003 },
  clarinet: { late: 0.014, uneven: 0.0045 },
  drum: { late: 0.011, uneven: 0.003 },
};

/** Plays the score: free time, each player's own lateness and unevenness, spread chords, levels. */
export function perform(): Performance {
  const time = planTime(score, 41);
  const notes: PlayedNote[] = [];
  for (const [seed, player] of playerOrder.entries()) {
    const chance = makeChance(500 + seed);
    score.forEach((phrase, index) => {
      for (const token of tokensOf(phrase, player)) {
        const at = time.phraseAt[index] + token.at;
        const { late, uneven } = following[player];
        // Followers stay within 5 to 25 ms behind; the leader is on either side of the beat.
        const offset = late + uneven * chance.normal();
        const kept = late > 0 ? Math.min(0.025, Math.max(0.005, offset)) : offset;
        const start = time.timeOf(at) + kept;
        // Just before the place: a note that ends where the players breathe ends before the breath.
        const until = time.timeOf(at + token.length - 1e-6) + kept;
        const level = levelOf(phrase, player, token, chance.normal());
        if (player === 'drum') {
          for (const stroke of token.names)
            notes.push({
              player,
              phrase: index,
              time: start,
              until,
              level,
              stroke,
              slurred: false,
            });
          continue;
        }
        const midis = token.names.map((name) => midiOf(name) + (phrase.up ?? 0));
        const spread = spreadOf(midis.length, level, chance.between(0.8, 1.25));
        midis.forEach((midi, place) => {
          const last = midis.length - 1;
          // The bass leads, the tune on top comes just after the beat and is the loudest.
          const shift = spread * (place - 0.65 * last) + (place > 0 ? 0.0015 * chance.normal() : 0);
          const balance = place === last ? 1 : place === 0 ? 0.94 : 0.84;
          notes.push({
            player,
            phrase: index,
            time: start + (last > 0 ? shift : 0),
            until,
            level: level * balance,
            midi,
            slurred: token.slurred,
          });
        });
      }
    });
  }
  notes.sort(
    (a, b) => a.time - b.time || playerOrder.indexOf(a.player) - playerOrder.indexOf(b.player),
  );
  return { time, notes };
}

function tokensOf(phrase: PhraseScore, player: Player): Token[] {
  const part = phrase.parts[player];
  if (!part) return [];
  const from: Beats = -phrase.pickup;
  const pickup = part.pickup ? readBars([part.pickup], from, phrase.pickup) : [];
  return [...pickup, ...readBars(part.bars, 0, beatsPerBar)];
}

function levelOf(phrase: PhraseScore, player: Player, token: Token, chance: number): Share {
  const levels = phrase.parts[player]?.levels ?? [];
  const written = levelAt(levels, token.at / beatsPerBar);
  const ghost = token.names.some((name) => /^[a-z]$/.test(name));
  const weighed = written * (token.weight > 0 ? 1.14 : token.weight < 0 ? 0.72 : 1);
  const metre = player === 'guitar' ? metreWeight(token.at) : 1;
  return Math.min(1, Math.max(0.05, weighed * metre * (ghost ? 0.5 : 1) * (1 + 0.05 * chance)));
}

/** The hand weighs its fingers by the metre: the one most, what lies between the beats least. */
function metreWeight(at: Beats): number {
  if (at % beatsPerBar === 0) return 1.1;
  return at % 1 === 0 ? 1.04 : 0.87;
}

/** Time from one string of a chord to the next: slower when soft. */
function spreadOf(count: number, level: Share, chance: number): Seconds {
  return count < 2 ? 0 : (0.012 + 0.02 * (1 - level)) * chance;
}
