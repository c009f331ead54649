import type { Band, BandSignals } from './bands.ts';
import { isPeak } from './lock.ts';
import type { Piece } from './plan.ts';
import {
  type Framer,
  fractionRamp,
  makeSpectrum,
  powersOf,
  setTurn,
  type Turns,
  turn,
} from './spectrum.ts';

/** A peak is held over if its power before the attack was at least this share of that after it. */
const share = 0.7;
/** Bins on each side of a held peak that go with it. */
const reach = 3;

/**
 * Partials that sounded before an attack as strongly as after it go on with the phase they have in the
 * result: the turn that brings the source just before the attack to what was written there. All else
 * starts anew, as recorded. Sets `turns` and says whether there are any.
 */
export function holdPartials(
  piece: Piece,
  band: Band,
  signals: BandSignals,
  padding: number,
  framer: Framer,
  turns: Turns,
): boolean {
  const { lead, outputs, shares } = signals;
  const { size } = framer;
  const half = size / 2;
  const at = Math.floor(piece.out / band.decimation);
  const exact = (piece.source - piece.out) / band.decimation;
  const shift = Math.round(exact);
  const ramp = fractionRamp(size, exact - shift);
  const none = Number.POSITIVE_INFINITY;
  const look = (first: number) =>
    lead.map((pair) => {
      const spectrum = makeSpectrum(size);
      framer.analyse(pair, first + padding, none, spectrum);
      turn(spectrum, ramp);
      return spectrum;
    });
  const before = look(at + shift - size);
  const after = look(at + shift);
  const sounding = lead.map(() => makeSpectrum(size));
  const work = makeSpectrum(size);
  outputs.forEach((pair, p) => {
    framer.analyse(pair, at - size + padding, none, work);
    for (const { pair: q, bothSides } of shares[p].pairs) {
      const sum = sounding[q];
      // What is real becomes real and imaginary alike.
      const side = bothSides ? 1 : 0;
      for (let i = 0; i < size; i++) {
        sum.re[i] += work.re[i] - side * work.im[i];
        sum.im[i] += work.im[i] + side * work.re[i];
      }
    }
  });
  const was = new Float64Array(half + 1);
  const is = new Float64Array(half + 1);
  powersOf(before, was);
  powersOf(after, is);
  let any = false;
  for (let k = 2; k < half - 2; k++) {
    if (!isPeak(is, k) || Math.max(was[k - 1], was[k], was[k + 1]) < share * is[k]) continue;
    setTurn(before, sounding, k, turns, k);
    for (let i = Math.max(0, k - reach); i <= Math.min(half, k + reach); i++) {
      turns.re[i] = turns.re[k];
      turns.im[i] = turns.im[k];
    }
    any = true;
  }
  return any;
}
