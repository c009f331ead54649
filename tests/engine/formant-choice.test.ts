import { expect, test } from 'vitest';
import type { Placement } from '../../shared/loop/lane.ts';
import { renderLane } from '../../shared/loop/render.ts';
import { readProject } from '../../src/store/project-file.ts';
import { plucks } from './plucks.ts';
import { plainProject } from './store-arbitraries.ts';

const audio = plucks([0.2, 0.8, 1.4, 2.0], 3, 0.3);
const times = [0.2, 0.8, 1.4, 2.0];
const slices = times.map((time, i) => ({
  id: `s${i}`,
  start: time - 0.01,
  landing: time,
  end: time + 0.55,
  by: 'heard' as const,
}));
const material = {
  sources: [audio],
  slices,
  onsets: times.map((time) => ({ time, strength: 1 })),
  beats: times.map((time, i) => ({ time, count: i + 1, confidence: 1, by: 'heard' as const })),
};
const plain = {
  id: 'p1',
  slice: 's1',
  at: 0,
  length: null,
  semitones: 7,
  cents: 0,
  level: 0,
  direction: 'forwards',
  rings: 'next',
} as const;

function rendered(placement: Placement): Float32Array {
  const lane = {
    id: 'l',
    name: 'flip',
    bars: 1,
    beatsPerBar: 2,
    beatUnit: 4,
    bpm: 100,
    steady: 100,
    tighten: 0,
    grid: '16',
    swing: 50,
    source: { kind: 'flip', placements: [placement] },
  } as const;
  return renderLane(material, lane).outputs[0].channels[0];
}

/** Where the power of a sound lies, in hertz: the mean frequency of its change from sample to sample. */
function brightness(signal: Float32Array): number {
  let [change, power] = [0, 0];
  for (let i = 1; i < signal.length; i++) {
    change += (signal[i] - signal[i - 1]) ** 2;
    power += signal[i] ** 2;
  }
  return (Math.sqrt(change / power) * 44100) / (2 * Math.PI);
}

test('on the lane resonances move along with a pitch, unless they are to be kept', () => {
  const moved = rendered(plain);
  const said = rendered({ ...plain, formants: 'moved' });
  const kept = rendered({ ...plain, formants: 'kept' });
  const before = rendered({ ...plain, semitones: 0 });
  expect(Buffer.compare(Buffer.from(moved.buffer), Buffer.from(said.buffer))).toBe(0);
  // Moved by a fifth the whole sound is brighter by 2^(7/12); kept, its overtones are as weak as where they stand now.
  expect(brightness(moved) / brightness(before)).toBeCloseTo(2 ** (7 / 12), 1);
  expect(brightness(kept)).toBeLessThan(brightness(moved));
  // At pitch there is nothing to keep.
  const still = rendered({ ...plain, semitones: 0, formants: 'kept' });
  expect(Buffer.compare(Buffer.from(still.buffer), Buffer.from(before.buffer))).toBe(0);
});

test('the choice stands in the project file, old ones have none, nonsense is dropped', () => {
  const project = plainProject();
  const pad = { row: 0, key: 0, slice: 's1', semitones: 3, cents: 0, level: 0 };
  const read = (formants: unknown) =>
    readProject({ ...project, pads: [{ ...pad, formants }] }).project.pads[0];
  expect(read('kept').formants).toBe('kept');
  expect(read(undefined)).not.toHaveProperty('formants');
  expect(read('louder')).not.toHaveProperty('formants');
});
