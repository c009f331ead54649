import type { Hertz } from '../math/units.ts';

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
 * Adds the weighted energy of one channel, K-weighted, to `energies`: block `i` sums the squares from
 * frame `edges[i]` to `edges[i + 1]`.
 */
export function addWeightedEnergies(
  channel: Float32Array,
  sampleRate: Hertz,
  weight: number,
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
  for (let block = 0; block < energies.length; block++) {
    let sum = 0;
    const to = edges[block + 1];
    for (let i = edges[block]; i < to; i++) {
      const x = channel[i];
      const head = b0 * x + z1;
      z1 = b1 * x - a1 * head + z2;
      z2 = b2 * x - a2 * head;
      const out = head + y1;
      y1 = -2 * head - h1 * out + y2;
      y2 = head - h2 * out;
      sum += out * out;
    }
    energies[block] += weight * sum;
    // In silence the state sinks to numbers too small for the processor's fast path.
    if (Math.abs(y1) < 1e-30 && Math.abs(z1) < 1e-30) z1 = z2 = y1 = y2 = 0;
  }
}
