import fc from 'fast-check';
import { createRoot } from 'solid-js';
import { describe, expect, it } from 'vitest';
import { loopLength } from '../../shared/loop/length.ts';
import { matchLoudness } from '../../src/sound/comparison.ts';
import { latencyOf, tapsWanted } from '../../src/sound/latency-test.ts';
import { readNote } from '../../src/sound/midi-in.ts';
import { renderPlainBeat } from '../../src/sound/plain-beat.ts';
import { makeRecorder } from '../../src/sound/recorder.ts';
import type { Sound } from '../../src/sound/sound.ts';
import { makeTapAlong, snapTap } from '../../src/sound/tap-along.ts';
import { plainLane } from '../../src/store/lane-commands.ts';
import { plainPad } from '../../src/store/pad-commands.ts';
import type { NewPlacement } from '../../src/store/placement-commands.ts';
import { createProjectStore } from '../../src/store/project-store.ts';
import { plainProject } from './store-arbitraries.ts';

const seed = 20260105;

describe('matched loudness', () => {
  it(`turns the louder side down to the other one, and nothing up (seed ${seed})`, () => {
    const lufs = fc.double({ min: -60, max: 0, noNaN: true });
    fc.assert(
      fc.property(lufs, lufs, (original, loop) => {
        const matched = matchLoudness(original, loop);
        expect(original + matched.originalBy).toBeCloseTo(loop + matched.loopBy, 9);
        expect(Math.max(matched.originalBy, matched.loopBy)).toBeCloseTo(0, 12);
      }),
      { seed },
    );
  });

  it('leaves both alone where one has no loudness', () => {
    expect(matchLoudness(Number.NEGATIVE_INFINITY, -20)).toMatchObject({
      originalBy: 0,
      loopBy: 0,
    });
  });
});

describe('the latency test', () => {
  const clicks = Array.from({ length: 16 }, (_, i) => 1 + i * 0.6);

  it('finds how late taps come, whatever two slips there are among them', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -0.03, max: 0.2, noNaN: true }),
        fc.array(fc.double({ min: -0.008, max: 0.008, noNaN: true }), {
          minLength: 10,
          maxLength: 16,
        }),
        (late, spread) => {
          const taps = spread.map((x, i) => (clicks[i] ?? 0) + late + x);
          const slips = [(clicks[0] ?? 0) + 0.27, (clicks[1] ?? 0) - 0.2];
          expect(latencyOf(clicks, [...taps, ...slips])).toBeCloseTo(late, 1);
          expect(Math.abs((latencyOf(clicks, taps) ?? 9) - late)).toBeLessThan(0.0081);
        },
      ),
      { seed },
    );
  });

  it('says nothing before there are enough taps, or where they lie anywhere', () => {
    expect(latencyOf(clicks, clicks.slice(0, tapsWanted - 1))).toBeNull();
    const anywhere = clicks.map((click, i) => click + ((i * 0.37) % 0.5) - 0.25);
    expect(latencyOf(clicks, anywhere)).toBeNull();
  });
});

describe('a tap', () => {
  it('goes to the likely attack nearby, and stays where there is none', () => {
    const onsets = [
      { time: 1, strength: 0.9 },
      { time: 1.05, strength: 0.05 },
    ];
    expect(snapTap(1.03, onsets)).toBe(1);
    expect(snapTap(1.06, onsets)).toBe(1);
    expect(snapTap(1.085, onsets)).toBe(1.05);
    expect(snapTap(0.93, onsets)).toBe(1);
    expect(snapTap(2, onsets)).toBe(2);
  });
});

describe('MIDI notes (MIDI 1.0 Detailed Specification, channel voice messages)', () => {
  it('are read on any channel; velocity 0 ends a note; nothing else is a note', () => {
    expect(readNote(Uint8Array.from([0x90, 60, 127]))).toEqual({ note: 60, velocity: 1 });
    expect(readNote(Uint8Array.from([0x9f, 36, 0]))).toEqual({ note: 36, velocity: 0 });
    expect(readNote(Uint8Array.from([0x85, 36, 64]))).toEqual({ note: 36, velocity: 0 });
    for (const data of [[0xb0, 1, 2], [0xf8], [0xe0, 0, 64], []])
      expect(readNote(Uint8Array.from(data))).toBeNull();
    expect(readNote(null)).toBeNull();
  });
});

describe('a plain beat', () => {
  const every = { kick: true, hat: true, click: true };
  it('is exactly as long as the loop, and of one bar only where the loop is', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 3 }),
        fc.integer({ min: 1, max: 5 }),
        fc.double({ min: 60, max: 240, noNaN: true }),
        (bars, beatsPerBar, bpm) => {
          const lane = { bars, beatsPerBar, bpm, swing: 58 };
          const [loop] = renderPlainBeat(lane, every, 8000).channels;
          expect(loop).toHaveLength(loopLength(lane, 8000));
          expect(loop?.every((x) => Math.abs(x) < 1)).toBe(true);
        },
      ),
      { seed, numRuns: 25 },
    );
  });

  it('clicks on every beat, first of all on the sample', () => {
    const lane = { bars: 1, beatsPerBar: 4, bpm: 120, swing: 50 };
    const [loop] = renderPlainBeat(lane, { kick: false, hat: false, click: true }, 48000).channels;
    for (let beat = 0; beat < 4; beat++) {
      const at = beat * 24000;
      expect(loop?.slice(Math.max(0, at - 100), at).every((x) => x === 0)).toBe(true);
      expect(loop?.slice(at, at + 20).some((x) => Math.abs(x) > 0.1)).toBe(true);
    }
  });
});

describe('tapping along', () => {
  it('goes on after a tap was taken back', () =>
    createRoot((dispose) => {
      const store = createProjectStore();
      store.open(plainProject());
      let at = 1;
      const run = makeTapAlong({ takeTimeAt: () => at } as unknown as Sound, store);
      run.tap(0);
      store.undo();
      at = 2;
      run.tap(0);
      run.done();
      expect(store.project()?.fixes).toEqual([{ beat: 2, by: 'tapped' }]);
      expect(store.undoLabel()).toBe('tap beats');
      dispose();
    }));
});

describe('taking down what is played', () => {
  const lane = {
    ...plainLane,
    id: 'l1',
    name: '',
    bars: 1,
    bpm: 120,
    source: { kind: 'flip' as const, placements: [] },
  };
  const pad = { ...plainPad, row: 0, key: 0, slice: 's1' };
  const take = () => {
    const passes: (readonly NewPlacement[])[] = [];
    const reached: number[] = [];
    const recorder = makeRecorder(lane, 10, (hits, until) => {
      passes.push(hits);
      reached.push(until);
    });
    return { passes, reached, recorder };
  };

  it('puts hits where they were in the bar, pass by pass', () => {
    const { passes, reached, recorder } = take();
    recorder.press(pad, 10.5, 1);
    recorder.press(pad, 11.75, 1);
    recorder.settle(11.9);
    expect(passes).toEqual([]);
    recorder.settle(12.1);
    recorder.press(pad, 12.25, 1);
    recorder.finish(12.5);
    expect(passes.map((hits) => hits.map((hit) => hit.at))).toEqual([[1, 3.5], [0.5]]);
    // The second pass went no further than its first beat.
    expect(reached).toEqual([4, 1]);
  });

  it('hands over a pass whole, also one with a key that is held over its end', () => {
    const { passes, recorder } = take();
    recorder.press(pad, 10.5, 1);
    recorder.press({ ...pad, key: 1, play: 'held' }, 11.75, 1);
    recorder.settle(12.1);
    recorder.press(pad, 12.2, 1);
    expect(passes).toEqual([]);
    recorder.release({ row: 0, key: 1 }, 12.25);
    recorder.settle(12.3);
    recorder.settle(14.1);
    expect(passes.map((hits) => hits.map((hit) => hit.at))).toEqual([
      [1, 3.5],
      [expect.closeTo(0.4, 6)],
    ]);
    expect(passes[0]?.[1]?.length).toBe(1);
  });

  it('hears a hit just before the first beat as meant for it, and none before that', () => {
    const { passes, recorder } = take();
    recorder.press(pad, 9.5, 1);
    recorder.press(pad, 9.95, 1);
    recorder.finish(10.5);
    expect(passes.map((hits) => hits.map((hit) => hit.at))).toEqual([[0]]);
  });

  it('keeps how long a held pad was down, and how hard it was struck', () => {
    const { passes, recorder } = take();
    recorder.press({ ...pad, play: 'held' }, 10, 0.5);
    recorder.settle(12.2);
    expect(passes).toEqual([]);
    recorder.release(pad, 10.25);
    recorder.settle(12.2);
    expect(passes[0]?.[0]).toMatchObject({ at: 0, length: 0.5, level: -12 });
  });
});
