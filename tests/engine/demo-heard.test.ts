import { beforeAll, describe, expect, it } from 'vitest';
import { type DemoTake, renderDemo } from '../../demo/demo-take.ts';
import { type HeardTake, hearTake } from '../../shared/cut/hear-take.ts';
import { inferBeats } from '../../shared/hear/beats/beats.ts';
import { beatF } from '../metrics/beat-score.ts';
import { boundaryScore } from '../metrics/boundary-score.ts';
import { correctBeats } from '../metrics/correcting-person.ts';
import { errorsOf, onsetErrors, onsetScore } from '../metrics/onset-score.ts';

/**
 * What hearing makes of the demo take, against what is true of it. The bounds are a little below what
 * was measured, so that a step backwards shows; windows are those of mir_eval.
 */
let take: DemoTake;
let heard: HeardTake;

beforeAll(() => {
  take = renderDemo();
  heard = hearTake(take.mix, { stems: take.stems.map((stem) => stem.audio) });
});

const timesOf = (list: readonly { time: number }[]) => list.map(({ time }) => time);

/** Attacks closer than 30 ms are one, as onset metrics have it (Boeck and Widmer 2013). */
function together(times: readonly number[]): number[] {
  const kept: number[] = [];
  for (const time of times)
    if (kept.length === 0 || time - kept[kept.length - 1] > 0.03) kept.push(time);
  return kept;
}

describe('hearing the demo take', () => {
  it('finds its onsets, and lands on them', () => {
    const all = timesOf(take.truth.onsets);
    const truth = together(all);
    const found = timesOf(heard.onsets);
    // A spread chord may be heard as one attack or as several: both are right.
    expect(onsetScore(truth, found).recall).toBeGreaterThan(0.88);
    expect(onsetScore(all, found).precision).toBeGreaterThan(0.82);
    expect(Math.abs(errorsOf(onsetErrors(truth, found)).median)).toBeLessThan(0.003);
  });

  it('finds most beats in free time, and the rest with a person who corrects', () => {
    const truth = timesOf(take.truth.beats);
    expect(beatF(truth, timesOf(heard.beats))).toBeGreaterThan(0.7);
    const last = truth[truth.length - 1];
    // The person listens to the last chord and lets be what is shown after it.
    const shown = (beats: readonly { time: number }[]) =>
      timesOf(beats).filter((time) => time < last + 0.1);
    const fixes: Parameters<typeof inferBeats>[1][number][] = [];
    const corrected = correctBeats(truth, shown(heard.beats), (fix) => {
      fixes.push(fix);
      return shown(inferBeats(heard.evidence, fixes));
    });
    expect(corrected.done).toBe(true);
    expect(corrected.fixes.length / (take.truth.seconds / 60)).toBeLessThan(20);
  });

  it('counts four beats in its bars, and the one where it is, but for what is lost where players wait', () => {
    const counts = take.truth.beats.flatMap(({ time, count }) => {
      const found = heard.beats.find((beat) => Math.abs(beat.time - time) < 0.07);
      return found ? [found.count === count] : [];
    });
    expect(counts.filter((right) => right).length / counts.length).toBeGreaterThan(0.9);
    expect(counts.length / take.truth.beats.length).toBeGreaterThan(0.9);
    const doubtful = heard.beats.filter(({ confidence }) => confidence < 0.5);
    expect(doubtful.length).toBeLessThan(3);
  });

  it('hears phrases begin where they do', () => {
    const truth = take.truth.phrases.map((phrase) => phrase.start);
    const score = boundaryScore(
      truth,
      heard.phrases.map((phrase) => phrase.start),
    );
    expect(score.recall).toBeGreaterThanOrEqual(6 / 7);
    expect(score.precision).toBeGreaterThan(0.7);
  });

  it('hears its opening and its second phrase come back a whole tone higher, and nothing else', () => {
    const at = (start: number) =>
      heard.phrases.findIndex((phrase) => Math.abs(phrase.start - start) < 0.5);
    const shown = heard.phrases.flatMap(({ like }, i) =>
      like ? [[like.phrase, i, like.semitones]] : [],
    );
    const truth = take.truth.phrases.flatMap(({ like, start }) =>
      like ? [[at(take.truth.phrases[like.phrase].start), at(start), like.semitones]] : [],
    );
    expect(shown).toEqual(truth);
  });

  it('hears the key that it opens in', () => {
    expect(heard.key).toMatchObject(take.truth.key);
  });

  it('hears that the clarinet is flat and the guitar is not', () => {
    const [guitar, clarinet] = heard.stemTunings;
    expect(Math.abs(guitar.cents - take.truth.tuning.guitar.cents)).toBeLessThan(2);
    expect(Math.abs(clarinet.cents - take.truth.tuning.clarinet.cents)).toBeLessThan(3);
  });
});
