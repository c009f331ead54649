/**
 * Fits what speaks for a breath and writes shared/hear/phrases/weights.ts:
 *
 *   npx tsx tests/bench/fit-phrases.ts
 *
 * A network of one hidden layer (tanh) on the cues of shared/hear/phrases/cues.ts, taught whether a true
 * phrase begins within 150 ms of an attack, by Adam (Kingma and Ba 2015) with weight decay; on the
 * development set and its old records and on the lessons of tests/perform, about 150 pieces of more than
 * one phrase. First it says how far that carries: four parts, each judged by what the others teach.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gatherBeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import { bestDivision, more } from '../../shared/hear/phrases/bounds.ts';
import { breathOdds } from '../../shared/hear/phrases/breath-model.ts';
import { type PhraseCandidate, phraseCandidates } from '../../shared/hear/phrases/cues.ts';
import { materialOf } from '../../shared/hear/phrases/material.ts';
import { hearRepeats } from '../../shared/hear/phrases/repeats.ts';
import { hearPartials } from '../../shared/hear/pitch/partials.ts';
import { tuningOf } from '../../shared/hear/pitch/tuning.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { secondsOf } from '../../shared/take/audio.ts';
import { levelCurve } from '../../shared/take/levels.ts';
import { boundaryScore } from '../metrics/boundary-score.ts';
import { record, type Session } from '../perform/record.ts';
import { asOldRecord, sessionsOf } from '../perform/sets.ts';
import { teach } from './phrases/teach.ts';

interface Piece {
  readonly name: string;
  readonly times: readonly Seconds[];
  readonly candidates: readonly PhraseCandidate[];
  readonly truth: readonly Seconds[];
}

function heardPiece(session: Session): Piece | undefined {
  const { audio, truth } = record(session);
  if (truth.phrases.length < 2) return undefined;
  const onsets = hearOnsets(audio);
  if (onsets.length < 2) return undefined;
  const seconds = secondsOf(audio);
  const partials = hearPartials(audio);
  const fresh = gatherBeatEvidence(audio, onsets);
  const material = materialOf(partials, tuningOf(partials), seconds, fresh);
  const repeats = hearRepeats(material);
  const curve = levelCurve(audio, 0.02);
  const candidates = phraseCandidates({ onsets, seconds, curve, partials, material, repeats });
  const times = [onsets[0].time, ...candidates.map((c) => c.time), seconds];
  return { name: session.name, times, candidates, truth: truth.phrases.map((p) => p.start) };
}

/** Whether each candidate is the attack nearest to a true start, and near enough. */
function labels({ candidates, truth }: Piece): boolean[] {
  const begins = candidates.map(() => false);
  for (const start of truth.slice(1)) {
    const far = candidates.map((c) => Math.abs(c.time - start));
    const nearest = far.indexOf(Math.min(...far));
    if (far[nearest] < 0.15) begins[nearest] = true;
  }
  return begins;
}

const taught = (pieces: readonly Piece[]) =>
  teach(
    pieces.flatMap((piece) => piece.candidates.map((c) => c.cues)),
    pieces.flatMap(labels),
  );

const pieces: Piece[] = [];
for (const session of [...sessionsOf('dev'), ...sessionsOf('lessons')]) {
  if (session.kind === 'steady') continue;
  const both = session.seed < 2000 ? [session, asOldRecord(session)] : [session];
  for (const one of both) {
    const piece = heardPiece(one);
    if (piece) pieces.push(piece);
  }
  console.error(session.name);
}

const parts = 4;
const scores: { near: number; far: number }[] = [];
for (let part = 0; part < parts; part++) {
  const number = (piece: Piece) => Number(piece.name.split('-')[1]) % parts;
  const model = taught(pieces.filter((piece) => number(piece) !== part));
  for (const { times, candidates, truth } of pieces.filter((piece) => number(piece) === part)) {
    const odds = candidates.map(({ cues }) => breathOdds(cues, model) + more);
    const starts = bestDivision(times, odds).slice(1);
    const f = (window: Seconds) => boundaryScore(truth.slice(1), starts, window).f;
    scores.push({ near: f(0.5), far: f(3) });
  }
}
const mean = (pick: (score: (typeof scores)[number]) => number) =>
  (scores.reduce((sum, score) => sum + pick(score), 0) / scores.length).toFixed(3);
console.log(`Left out: F ${mean((s) => s.near)} at 0.5 s, ${mean((s) => s.far)} at 3 s`);

const model = taught(pieces);
const list = (values: readonly number[]) =>
  `[${values.map((v) => Number(v.toPrecision(4))).join(', ')}]`;
writeFileSync(
  fileURLToPath(new URL('../../shared/hear/phrases/weights.ts', import.meta.url)),
  `// Written by tests/bench/fit-phrases.ts; not for editing.
import type { BreathModel } from './breath-model.ts';

export const breathModel: BreathModel = {
  means: ${list(model.means)},
  spreads: ${list(model.spreads)},
  inner: ${list(model.inner)},
  innerBiases: ${list(model.innerBiases)},
  outer: ${list(model.outer)},
  bias: ${Number(model.bias.toPrecision(4))},
};
`,
);
console.log('Written; now run npx biome check --write shared/hear/phrases/weights.ts');
