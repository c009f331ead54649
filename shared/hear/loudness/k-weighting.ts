import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Hertz } from '../../math/units.ts';
import type { Audio } from '../../take/audio.ts';

/** Coefficients of a second-order section, a0 = 1. */
export interface Biquad {
  readonly b: readonly [number, number, number];
  readonly a: readonly [number, number];
}

/**
 * The two filters of K-weighting at any rate: a shelf for the head, a high-pass for the ear (ITU-R
 * BS.1770-4, Annex 1, tables 1 and 2, which give 48 kHz). The analogue prototypes below give the
 * tables' digits back at 48 kHz under the bilinear transform; other rates follow from them.
 */
export function kWeighting(sampleRate: Hertz): readonly [Biquad, Biquad] {
  return [shelf(sampleRate), highPass(sampleRate)];
}

function shelf(sampleRate: number): Biquad {
  const k = Math.tan((Math.PI * 1681.974450955533) / sampleRate);
  const q = 0.7071752369554196;
  const high = 10 ** (3.999843853973347 / 20);
  const band = high ** 0.4996667741545416;
  const a0 = 1 + k / q + k * k;
  return {
    b: [
      (high + (band * k) / q + k * k) / a0,
      (2 * (k * k - high)) / a0,
      (high - (band * k) / q + k * k) / a0,
    ],
    a: [(2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0],
  };
}

function highPass(sampleRate: number): Biquad {
  const k = Math.tan((Math.PI * 38.13547087602444) / sampleRate);
  const q = 0.5003270373238773;
  const a0 = 1 + k / q + k * k;
  return { b: [1, -2, 1], a: [(2 * (k * k - 1)) / a0, (1 - k / q + k * k) / a0] };
}

/**
 * Weights of the channels in WAV's order: 1.41 for surrounds, none for the low-frequency channel
 * (BS.1770-4, Annex 1, tables 3 and 4; rear channels of 6.1 and 7.1 weigh 1).
 */
export function channelWeights(channels: number): readonly number[] {
  switch (channels) {
    case 4:
      return [1, 1, 1.41, 1.41];
    case 5:
      return [1, 1, 1, 1.41, 1.41];
    case 6:
      return [1, 1, 1, 0, 1.41, 1.41];
    case 7:
      return [1, 1, 1, 0, 1, 1.41, 1.41];
    case 8:
      return [1, 1, 1, 0, 1, 1, 1.41, 1.41];
    default:
      return Array.from({ length: channels }, () => 1);
  }
}

/**
 * Weighted energy of all channels, K-weighted, in slots: slot `i` sums the squares from frame `edges[i]`
 * to `edges[i + 1]`.
 */
export function weightedEnergies(
  { channels, sampleRate }: Audio,
  edges: Float64Array,
  kernel: Kernels | null = kernels(),
): Float64Array {
  const energies = new Float64Array(edges.length - 1);
  const weights = channelWeights(channels.length);
  const heard = channels.flatMap((channel, c) =>
    weights[c] > 0 ? [{ channel, weight: weights[c] }] : [],
  );
  if (!kernel) for (const one of heard) addEnergies(one, sampleRate, edges, energies);
  else
    for (let c = 0; c < heard.length; c += 2)
      addEnergiesOfTwo(heard.slice(c, c + 2), sampleRate, edges, energies, kernel);
  return energies;
}

interface Weighed {
  readonly channel: Float32Array;
  readonly weight: number;
}

function addEnergies(
  { channel, weight }: Weighed,
  sampleRate: Hertz,
  edges: Float64Array,
  energies: Float64Array,
): void {
  const [first, second] = kWeighting(sampleRate);
  const [b0, b1, b2] = first.b;
  const [a1, a2] = first.a;
  const [h1, h2] = second.a;
  // Direct form II transposed, twice; z of the shelf, y of the high-pass.
  let z1 = 0;
  let z2 = 0;
  let y1 = 0;
  let y2 = 0;
  for (let slot = 0; slot < energies.length; slot++) {
    let sum = 0;
    for (let i = edges[slot]; i < edges[slot + 1]; i++) {
      const x = channel[i];
      const head = b0 * x + z1;
      z1 = b1 * x - a1 * head + z2;
      z2 = b2 * x - a2 * head;
      const out = head + y1;
      y1 = -2 * head - h1 * out + y2;
      y2 = head - h2 * out;
      sum += out * out;
    }
    energies[slot] += weight * sum;
    // In silence the state sinks to numbers too small for the processor's fast path.
    if (Math.abs(y1) < TINY && Math.abs(z1) < TINY) z1 = z2 = y1 = y2 = 0;
  }
}

const TINY = 1e-30;
/** Slots whose samples are handed to the kernels at once. */
const TOGETHER = 32;

/** The same for two channels side by side, or for one. */
function addEnergiesOfTwo(
  pair: readonly Weighed[],
  sampleRate: Hertz,
  edges: Float64Array,
  energies: Float64Array,
  kernel: Kernels,
): void {
  const [first, second] = kWeighting(sampleRate);
  const span = TOGETHER * (1 + Math.ceil(edges[edges.length - 1] / energies.length));
  const room = new KernelRoom(kernel);
  const places = pair.map(() => room.place(span * 4));
  const coefficients = room.place(7 * 8);
  const state = room.place(8 * 8);
  const sums = room.place(2 * 8);
  room.doubles(coefficients, 7).set([...first.b, ...first.a, ...second.a]);
  const kept = room.doubles(state, 8).fill(0);
  const found = room.doubles(sums, 2);
  const samples = places.map((place) => room.floats(place, span));
  for (let slot = 0; slot < energies.length; slot += TOGETHER) {
    const from = edges[slot];
    const last = Math.min(energies.length, slot + TOGETHER);
    pair.forEach(({ channel }, c) => {
      samples[c].set(channel.subarray(from, edges[last]));
    });
    for (let s = slot; s < last; s++) {
      const at = (edges[s] - from) * 4;
      const left = places[0] + at;
      const right = (places[1] ?? places[0]) + at;
      kernel.weighedEnergies(left, right, edges[s + 1] - edges[s], coefficients, state, sums);
      pair.forEach(({ weight }, c) => {
        energies[s] += weight * found[c];
      });
    }
    if (kept.every((value) => Math.abs(value) < TINY)) kept.fill(0);
  }
}
