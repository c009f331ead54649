import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Seconds, Share } from '../../math/units.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import { CELL } from './features.ts';
import { PARTS } from './net.ts';

/** An attack as the ear first has it: when, and how sure it is that there is one. */
export interface Attack {
  readonly time: Seconds;
  readonly sureness: Share;
}

const PART_SECONDS = CELL / PARTS / ANALYSIS_RATE;
/** Parts on either side whose likelihood counts towards one attack. */
const REACH = 2;
/** Peaks nearer than this are one. */
const APART: Seconds = 0.027;
/** Parts on either side among which an attack must be the likeliest. */
const RIVALS = 6;

/**
 * What may be an attack: where the likelihood, gathered over about 12 ms, has a peak; the time is the
 * peak's centre of gravity.
 */
export function pickAttacks(
  likelihood: Float32Array,
  threshold: Share,
  kernel: Kernels | null = kernels(),
): Attack[] {
  const parts = likelihood.length;
  const attacks: Attack[] = [];
  const peaks = kernel
    ? peaksByKernel(likelihood, threshold, kernel)
    : peaksPlainly(likelihood, threshold);
  for (const { part: k, mass } of peaks) {
    let sum = 0;
    let moment = 0;
    for (let j = Math.max(0, k - REACH - 1); j <= Math.min(parts - 1, k + REACH + 1); j++) {
      sum += likelihood[j];
      moment += likelihood[j] * j;
    }
    const time = Math.max(0, (moment / sum + 0.5 - PARTS / 2) * PART_SECONDS);
    const attack = { time, sureness: Math.min(1, mass) };
    const last = attacks[attacks.length - 1];
    if (!last || time - last.time >= APART) attacks.push(attack);
    else if (attack.sureness > last.sureness) attacks[attacks.length - 1] = attack;
  }
  return attacks;
}

/** A part of a cell at which the gathered likelihood has a peak. */
interface Peak {
  readonly part: number;
  readonly mass: number;
}

function peaksPlainly(likelihood: Float32Array, threshold: Share): Peak[] {
  const parts = likelihood.length;
  const mass = new Float32Array(parts);
  for (let k = 0; k < parts; k++)
    for (let j = Math.max(0, k - REACH); j <= Math.min(parts - 1, k + REACH); j++)
      mass[k] += likelihood[j];
  const peaks: Peak[] = [];
  for (let k = 0; k < parts; k++)
    if (mass[k] >= threshold && isHighest(mass, k)) peaks.push({ part: k, mass: mass[k] });
  return peaks;
}

function peaksByKernel(likelihood: Float32Array, threshold: Share, kernel: Kernels): Peak[] {
  const parts = likelihood.length;
  const room = new KernelRoom(kernel);
  const place = room.keep([], parts + 2 * REACH);
  const mass = room.place(parts * 4);
  const found = room.place(parts * 4);
  const x = place + REACH * 4;
  room.floats(x, parts).set(likelihood);
  const count = kernel.peaksOfSums(x, parts, REACH, RIVALS, threshold, mass, found);
  const masses = room.floats(mass, parts);
  return Array.from(room.whole(found, count), (part) => ({ part, mass: masses[part] }));
}

/** No neighbour within `RIVALS` is higher, nor equal and earlier. */
function isHighest(mass: Float32Array, k: number): boolean {
  for (let j = Math.max(0, k - RIVALS); j < k; j++) if (mass[j] >= mass[k]) return false;
  for (let j = k + 1; j <= Math.min(mass.length - 1, k + RIVALS); j++)
    if (mass[j] > mass[k]) return false;
  return true;
}

/** Attacks nearer than this are one: the truth we learn from merges within 30 ms. */
const ONE: Seconds = 0.029;
/** An attack with none as sure this near stands alone. */
const ALONE: Seconds = 0.08;

/**
 * The attacks that the ear is sure of, the surer of two that are one. A soft note that stands alone has
 * nothing that could be mistaken for it, so the ear may be less sure of it.
 *
 * @param sure,sureAlone the least sureness, of attacks near others and of those that stand alone
 * @param before attacks that are kept anyway
 * @returns in rising order
 */
export function keepSure(
  attacks: readonly Attack[],
  sure: Share,
  sureAlone: Share,
  before: readonly Attack[] = [],
): Attack[] {
  const kept = [...before];
  const within = (time: Seconds, reach: Seconds) =>
    kept.some((other) => Math.abs(other.time - time) < reach);
  for (const attack of [...attacks].sort((a, b) => b.sureness - a.sureness)) {
    const { time, sureness } = attack;
    if (sureness < sureAlone || within(time, ONE)) continue;
    if (sureness >= sure || !within(time, ALONE)) kept.push(attack);
  }
  return kept.sort((a, b) => a.time - b.time);
}
