import { describe, expect, it } from 'vitest';
import { ANALYSIS_RATE } from '../../shared/hear/analysis-rate.ts';
import { CELL } from '../../shared/hear/onsets/features.ts';
import { PARTS } from '../../shared/hear/onsets/net.ts';
import { keepSure, pickAttacks } from '../../shared/hear/onsets/picking.ts';

const part = CELL / PARTS / ANALYSIS_RATE;

/** A curve with likelihood 0 but for the parts given. */
function curve(length: number, values: Record<number, number>): Float32Array {
  const out = new Float32Array(length);
  for (const [at, value] of Object.entries(values)) out[Number(at)] = value;
  return out;
}

describe('picking attacks from likelihoods', () => {
  it('takes the centre of gravity, a part of a cell being centred half a part after its start', () => {
    const [attack] = pickAttacks(curve(200, { 99: 0.3, 100: 0.3 }), 0.3);
    // Part 0 of cell n begins half a cell before n cells' length.
    expect(attack.time).toBeCloseTo((99.5 + 0.5 - PARTS / 2) * part, 9);
    expect(attack.sureness).toBeCloseTo(0.6, 6);
  });

  it('takes the likelier of two within 27 ms, and both when farther apart', () => {
    expect(pickAttacks(curve(200, { 100: 0.5, 109: 0.9 }), 0.3).length).toBe(1);
    expect(pickAttacks(curve(200, { 100: 0.5, 112: 0.9 }), 0.3).length).toBe(2);
  });

  it('never gives a time before the start', () => {
    expect(pickAttacks(curve(20, { 0: 0.9 }), 0.3)[0].time).toBe(0);
  });
});

describe('keeping what is surely an attack', () => {
  const kept = (...attacks: [number, number][]) =>
    keepSure(
      attacks.map(([time, sureness]) => ({ time, sureness })),
      0.6,
      0.4,
    ).map((attack) => attack.time);

  it('takes the surer of two within 29 ms, in rising order', () => {
    expect(kept([1.02, 0.9], [1, 0.8])).toEqual([1.02]);
    expect(kept([1.03, 0.9], [1, 0.8])).toEqual([1, 1.03]);
  });

  it('asks less of an attack that stands alone', () => {
    expect(kept([1, 0.5])).toEqual([1]);
    expect(kept([1, 0.3])).toEqual([]);
    expect(kept([1, 0.5], [1.07, 0.9])).toEqual([1.07]);
    expect(kept([1, 0.5], [1.09, 0.9])).toEqual([1, 1.09]);
  });

  it('adds to what is kept anyway, itself again not, nor what is one with it', () => {
    const all = [
      { time: 1, sureness: 0.9 },
      { time: 1.02, sureness: 0.5 },
      { time: 1.06, sureness: 0.5 },
    ];
    expect(keepSure(all, 0.4, 0.4, [all[0]])).toEqual([all[0], all[2]]);
    expect(keepSure(all, 0.4, 0.4, [{ time: 1.06, sureness: 0.2 }])).toEqual([
      all[0],
      { time: 1.06, sureness: 0.2 },
    ]);
  });

  it('does not count against an attack what is itself given up', () => {
    expect(kept([1, 0.5], [1.07, 0.55], [1.14, 0.9])).toEqual([1, 1.14]);
  });
});
