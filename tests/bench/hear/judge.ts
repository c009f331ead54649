import type { Seconds } from '../../../shared/math/units.ts';
import { beatF, betterBeatF, cemgil, pScore, trimBeats } from '../../metrics/beat-score.ts';
import { boundaryScore } from '../../metrics/boundary-score.ts';
import { correctBeats } from '../../metrics/correcting-person.ts';
import { keyScore } from '../../metrics/key-score.ts';
import { onsetErrors, onsetScore, recallOf } from '../../metrics/onset-score.ts';
import type { Truth } from '../../perform/truth.ts';
import { byHand, type Heard } from './listeners.ts';

/** How one listener did on one recording. Absent: it does not do that. */
export interface Judged {
  readonly name: string;
  readonly kind: Truth['kind'];
  readonly old: boolean;
  readonly seconds: Seconds;
  readonly took: Seconds;
  readonly onset50?: number;
  readonly onset10?: number;
  readonly errors?: readonly Seconds[];
  readonly soft?: { readonly found: number; readonly of: number };
  readonly beat?: number;
  readonly beatTrimmed?: number;
  readonly beatStrict?: number;
  readonly cemgil?: number;
  readonly pScore?: number;
  readonly corrections?: number;
  readonly phrase05?: number;
  readonly phrase3?: number;
  /** Returns found with the right transposition, shown, and true. */
  readonly returns?: { readonly right: number; readonly shown: number; readonly of: number };
  readonly cents?: number;
  readonly key?: number;
}

export function judge(truth: Truth, heard: Heard, took: Seconds): Judged {
  const onsets = heard.onsets;
  const beats = heard.beats;
  const times = truth.beats.map((beat) => beat.time);
  const levels = [times, truth.otherBeats];
  return {
    name: truth.name,
    kind: truth.kind,
    old: truth.name.endsWith('-old'),
    seconds: truth.seconds,
    took,
    ...(onsets && {
      onset50: onsetScore(truth.onsets, onsets, 0.05).f,
      onset10: onsetScore(truth.onsets, onsets, 0.01).f,
      errors: onsetErrors(truth.onsets, onsets, 0.05),
      soft: recallOf(truth.softAlone, truth.onsets, onsets, 0.05),
    }),
    ...(beats && {
      beat: betterBeatF(levels, beats),
      beatTrimmed: betterBeatF(
        levels.map((level) => trimBeats(level)),
        trimBeats(beats),
      ),
      beatStrict: beatF(times, beats),
      cemgil: cemgil(times, beats).best,
      pScore: pScore(times, beats),
    }),
    ...(heard.phrases && {
      phrase05: phraseScore(truth, heard, 0.5),
      phrase3: phraseScore(truth, heard, 3),
      returns: judgeReturns(truth, heard),
    }),
    ...(heard.tuning && { cents: heard.tuning.cents - truth.tuning.cents }),
    ...(heard.key && { key: keyScore(truth.key, heard.key) }),
  };
}

/** Corrections until every beat is right, at the metrical level that takes fewer. */
export function countCorrections(truth: Truth, heard: Heard): number {
  const beats = heard.beats ?? [];
  const levels = [truth.beats.map((beat) => beat.time), truth.otherBeats];
  return Math.min(
    ...levels.map((level) => {
      const correct = heard.corrector?.() ?? byHand(beats);
      return correctBeats(level, beats, correct).fixes.length;
    }),
  );
}

function phraseScore(truth: Truth, heard: Heard, window: Seconds): number | undefined {
  if (truth.phrases.length < 2) return undefined;
  const starts = truth.phrases.slice(1).map((phrase) => phrase.start);
  const shown = (heard.phrases ?? []).slice(1).map((phrase) => phrase.start);
  return boundaryScore(starts, shown, window).f;
}

/** Which true phrase a heard one lies in most. */
function truePhraseOf(truth: Truth, start: Seconds, end: Seconds): number {
  const shared = truth.phrases.map((p) => Math.min(end, p.end) - Math.max(start, p.start));
  return shared.indexOf(Math.max(...shared));
}

function judgeReturns(truth: Truth, heard: Heard): { right: number; shown: number; of: number } {
  const phrases = heard.phrases ?? [];
  const height = truth.phrases.map((phrase, i): number => {
    const first = truth.phrases.findIndex((p) => p.material === phrase.material);
    return i === first ? 0 : (phrase.like?.semitones ?? 0);
  });
  const found = new Set<number>();
  let right = 0;
  let shown = 0;
  for (const phrase of phrases) {
    if (!phrase.like) continue;
    shown++;
    const earlier = phrases[phrase.like.phrase];
    const now = truePhraseOf(truth, phrase.start, phrase.end);
    const then = truePhraseOf(truth, earlier.start, earlier.end);
    if (truth.phrases[now].material !== truth.phrases[then].material || now === then) continue;
    const apart = height[now] - height[then] - phrase.like.semitones;
    if (apart % 12 !== 0) continue;
    right++;
    found.add(now);
  }
  const of = truth.phrases.filter((phrase) => phrase.like).length;
  return { right: Math.min(right, shown), shown, of: Math.max(of, found.size) };
}
