import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { partOfLabel } from '../../src/store/stem-commands.ts';
import { hearStem, type StemState, stemState } from '../../src/store/stems-heard.ts';

const stem = (hash: string, label: string, variant: string | null = null) => ({
  hash,
  label,
  variant,
});
const stems = [
  stem('g', 'Guitar'),
  stem('v', 'Voice'),
  stem('vd', 'Voice', 'dry'),
  stem('vw', 'Voice', 'wet'),
];
const none = { muted: [], solo: [] };
/** What sounds, as the player chooses it: the mix while nothing is chosen. */
const sounding = ({ muted, solo }: { muted: readonly string[]; solo: readonly string[] }) =>
  muted.length + solo.length === 0
    ? ['mix']
    : stems
        .map((one) => one.hash)
        .filter(
          (hash) =>
            (solo.length ? solo : stems.map((s) => s.hash)).includes(hash) &&
            (solo.length > 0 || !muted.includes(hash)),
        );

describe('how stems are heard', () => {
  it('leaves the mix, without any variant, as long as nothing is chosen', () => {
    expect(stems.map((one) => stemState(one, none))).toEqual([
      'heard',
      'heard',
      'silent',
      'silent',
    ]);
    expect(sounding(none)).toEqual(['mix']);
  });

  it('puts a variant in the place of the part that is in the mix, and back', () => {
    const dry = hearStem(stems, none, 'vd', 'heard');
    expect(sounding(dry)).toEqual(['g', 'vd']);
    const wet = hearStem(stems, dry, 'vw', 'heard');
    expect(sounding(wet)).toEqual(['g', 'vw']);
    expect(sounding(hearStem(stems, wet, 'vw', 'silent'))).toEqual(['mix']);
    expect(sounding(hearStem(stems, wet, 'v', 'heard'))).toEqual(['mix']);
  });

  it('silences a part without letting its variants in', () => {
    const without = hearStem(stems, none, 'g', 'silent');
    expect(sounding(without)).toEqual(['v']);
    expect(sounding(hearStem(stems, without, 'g', 'heard'))).toEqual(['mix']);
  });

  it('lets a variant be heard alone, and then not any more', () => {
    const alone = hearStem(stems, none, 'vw', 'alone');
    expect(sounding(alone)).toEqual(['vw']);
    expect(sounding(hearStem(stems, alone, 'vw', 'silent'))).toEqual(['mix']);
  });

  it('never sounds two versions of a part at once, and says of each what was asked for last', () => {
    const step = fc.record({
      hash: fc.constantFrom(...stems.map((one) => one.hash)),
      state: fc.constantFrom<StemState>('heard', 'silent'),
    });
    fc.assert(
      fc.property(fc.array(step, { minLength: 1, maxLength: 12 }), (steps) => {
        let choice: { muted: readonly string[]; solo: readonly string[] } = none;
        for (const { hash, state } of steps) {
          choice = hearStem(stems, choice, hash, state);
          const asked = stems.find((one) => one.hash === hash);
          expect(asked && stemState(asked, choice)).toBe(state);
          const voices = sounding(choice).filter((one) => one.startsWith('v'));
          expect(voices.length).toBeLessThanOrEqual(1);
        }
      }),
      { seed: 6 },
    );
  });
});

describe('a label', () => {
  it.each([
    ['Viola dry', 'Viola', 'dry'],
    ['Viola - WET', 'Viola', 'wet'],
    ['Lead voice alt', 'Lead voice', 'alternate'],
    ['Dry', 'Dry', null],
    ['Laundry', 'Laundry', null],
  ])('tells part and version: %s', (label, part, variant) => {
    expect(partOfLabel(label)).toEqual({ label: part, variant });
  });
});
