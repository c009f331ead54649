/**
 * Fits the constants of beat inference and prints them, to be copied into shared/hear/beats/tuning.ts.
 *
 *   npx tsx tests/bench/fit-beats.ts [--pieces 12] [--minutes 20] [--steady]
 *
 * First it records practice pieces (beats/practice.ts; seeded, apart from the development and check
 * sets) and keeps what is heard in them. Then (1) the shares of beats with an onset in each part; (2) all
 * numbers of `TUNING` (with `--steady` of `STEADY`) by an evolution strategy with a diagonal covariance
 * (sep-CMA-ES, Ros and Hansen 2008, PPSN X), against corrections a minute over their goals plus four
 * times one minus beat F. Three pieces of four are fitted, the fourth tells how far it carries.
 * The constants that are there come from an earlier state of this recipe (about 200 core minutes, 78 pieces
 * of this sort and of the kind `smallSession` makes, a population of 32); those of `STEADY` were set by hand,
 * and so were `salienceWeight`, `freedom`, `silentWeight` and what concerns rhythm, one at a time, when the
 * networks came (on the development set and 72 pieces of these sorts that they had not been taught on).
 */
import { parseArgs } from 'node:util';
import { fixBeats, startBeats } from '../../shared/hear/beats/fixes.ts';
import { PARTS, STEADY, TUNING } from '../../shared/hear/beats/tuning.ts';
import { betterBeatF } from '../metrics/beat-score.ts';
import { correctBeats } from '../metrics/correcting-person.ts';
import { Chance } from '../perform/chance.ts';
import { type HeardPiece, heardPiece } from './beats/heard-piece.ts';
import { type PracticeKind, practiceKinds, practicePiece } from './beats/practice.ts';

const goals: Record<PracticeKind, number> = { piano: 6, trio: 4, extreme: 25, steady: 2 };

function partRates(pieces: readonly HeardPiece[]): number[] {
  const filled = new Array<number>(PARTS).fill(0);
  let total = 0;
  for (const { beats, evidence } of pieces)
    for (let b = 0; b + 1 < beats.length; b++) {
      const length = beats[b + 1] - beats[b];
      const parts = new Set<number>();
      for (const time of evidence.times)
        if (time >= beats[b] + 0.04 && time < beats[b + 1])
          parts.add(Math.round(((time - beats[b]) / length) * PARTS));
      for (const part of parts) if (part > 0 && part < PARTS) filled[part]++;
      total++;
    }
  return filled.slice(1).map((count) => count / total);
}

/** How badly pieces go: lower is better. */
function cost(pieces: readonly HeardPiece[]): { cost: number; text: string } {
  let sum = 0;
  const words: string[] = [];
  for (const kind of practiceKinds) {
    const mine = pieces.filter((piece) => piece.kind === kind);
    if (mine.length === 0) continue;
    let f = 0;
    let fixes = 0;
    for (const { beats, other, evidence } of mine) {
      let state = startBeats(evidence);
      f += betterBeatF([beats, other], state.times) / mine.length;
      const done = correctBeats(beats, state.times, (fix) => {
        state = fixBeats(evidence, state, fix);
        return state.times;
      });
      const minutes = beats[beats.length - 1] / 60;
      fixes += done.fixes.length / minutes / mine.length;
    }
    sum += fixes / goals[kind] + 4 * (1 - f);
    words.push(`${kind} F ${f.toFixed(3)}, ${fixes.toFixed(1)} a minute`);
  }
  return { cost: sum, text: words.join('; ') };
}

/** Numbers under search are logs of the constants; shares stay shares, the level is a log already. */
const open = (key: string, value: number) =>
  key === 'level'
    ? value
    : value < 1 && shares.has(key)
      ? Math.log(value / (1 - value))
      : Math.log(value + 1e-9);
const close = (key: string, x: number) =>
  key === 'level' ? x : shares.has(key) ? 1 / (1 + Math.exp(-x)) : Math.exp(x);
const shares = new Set(['sounding', 'forget', 'salienceForget']);

function search(
  pieces: readonly HeardPiece[],
  constants: Record<string, number>,
  minutes: number,
): void {
  const chance = new Chance(5);
  const keys = Object.keys(constants).filter((key) => constants[key] !== 0);
  const n = keys.length;
  const many = 16;
  const few = many / 2;
  const weights = Array.from({ length: few }, (_, i) => Math.log(few + 0.5) - Math.log(i + 1));
  const all = weights.reduce((sum, w) => sum + w, 0);
  const mass = all ** 2 / weights.reduce((sum, w) => sum + w * w, 0);
  const rate = Math.min(1, ((n + 2) / 3) * ((2 * mass) / ((n + 2) ** 2 + mass)));
  let mean = keys.map((key) => open(key, constants[key]));
  const spread = keys.map(() => 0.25);
  const put = (x: readonly number[]) => {
    keys.forEach((key, k) => {
      constants[key] = close(key, x[k]);
    });
  };
  const until = Date.now() + minutes * 60_000;
  for (let turn = 0; Date.now() < until; turn++) {
    const sample = pieces.filter(() => chance.odds(0.4));
    const tries = Array.from({ length: many }, () => {
      const z = keys.map(() => chance.normal(0, 1));
      const x = mean.map((m, k) => m + spread[k] * z[k]);
      put(x);
      return { z, x, cost: cost(sample).cost };
    }).sort((a, b) => a.cost - b.cost);
    mean = mean.map((_, k) => weights.reduce((sum, w, i) => sum + (w / all) * tries[i].x[k], 0));
    for (let k = 0; k < n; k++) {
      const wide = weights.reduce((sum, w, i) => sum + (w / all) * tries[i].z[k] ** 2, 0);
      spread[k] *= Math.sqrt(1 - rate + rate * wide);
    }
    console.log(`turn ${turn}: best ${tries[0].cost.toFixed(3)}`);
  }
  put(mean);
}

const { values } = parseArgs({
  options: {
    pieces: { type: 'string', default: '12' },
    minutes: { type: 'string', default: '20' },
    steady: { type: 'boolean', default: false },
  },
});
const pieces = practiceKinds
  .filter((kind) => !values.steady || kind === 'steady')
  .flatMap((kind) =>
    Array.from({ length: Number(values.pieces) }, (_, i) => heardPiece(practicePiece(kind, i + 1))),
  );
const kept = pieces.filter((_, i) => i % 4 === 3);
const fitted = pieces.filter((_, i) => i % 4 !== 3);
console.log(
  'parts:',
  partRates(fitted)
    .map((rate) => rate.toFixed(2))
    .join(', '),
);
console.log('kept apart, as it is:', cost(kept).text);
const constants: Record<string, number> = values.steady ? STEADY : TUNING;
search(fitted, constants, Number(values.minutes));
console.log('kept apart, fitted:', cost(kept).text);
console.log(constants);
