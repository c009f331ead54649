import type { Frames } from './attacks.ts';
import { frameRows } from './frame-rows.ts';

/** Power columns up to 22 kHz: what rates over 48 kHz hold beyond them is hiss to all ears, and counts for nothing. */
const audible = 19;

/** How much comes that was not there: for each frame its mean over all columns, and over those of each of the warp's bands. */
export interface Flux {
  readonly all: Float32Array;
  readonly bands: readonly Float32Array[];
}

/**
 * Log-compressed positive flux of short-time power. What counts is what no frame of the last `memory` had in
 * that column: beats and noise come back to levels that they just had, new sounds rise over them. Levels count in
 * relation to the loudest frame, so gain moves nothing.
 *
 * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
 * @returns undefined where all is silent
 */
export function fluxOf(frames: Frames, memory: number, plain = false): Flux | undefined {
  const { count, width, power, split } = frames;
  const rows = plain ? null : frameRows(frames);
  let loudest = 0;
  if (rows)
    for (let first = 0; first < count; first += rows.most) {
      const end = Math.min(count, first + rows.most);
      rows.bring(first, end);
      loudest = Math.max(loudest, rows.kernel.largest(rows.at, (end - first) * width));
    }
  else for (let i = 0; i < power.length; i++) if (power[i] > loudest) loudest = power[i];
  if (!(loudest > 0)) return undefined;
  const gamma = 1e5 / loudest;
  const all = new Float32Array(count);
  const bands = split.slice(1).map(() => new Float32Array(count));
  const bandOf = Array.from({ length: width }, (_, b) => split.findIndex((edge) => edge > b) - 1);
  const columns = Math.min(width, audible);
  const shares = bandOf.map((w) => 1 / (Math.min(columns, split[w + 1]) - split[w]));
  if (rows) {
    const { kernel, at, most, found } = rows;
    const sharesAt = found;
    const bandsAt = sharesAt + width * 8;
    const allAt = bandsAt + width * 8;
    const ofBandsAt = allAt + most * 4;
    rows.doubles(sharesAt, width).set(shares);
    rows.whole(bandsAt, width).set(bandOf);
    for (let first = 2; first < count; first += most - memory) {
      const begin = Math.max(0, first - memory);
      const end = Math.min(count, first + most - memory);
      rows.bring(begin, end);
      kernel.fluxes(
        ...([at, width, first - begin, end - begin, memory, gamma, columns] as const),
        ...([bandsAt, sharesAt, allAt, bands.length, ofBandsAt, most] as const),
      );
      all.set(rows.floats(allAt, end - first), first);
      bands.forEach((band, b) => {
        band.set(rows.floats(ofBandsAt + b * most * 4, end - first), first);
      });
    }
    return { all, bands };
  }
  for (let f = 2; f < count; f++) {
    const row = f * width;
    const oldest = Math.max(0, row - memory * width);
    let sum = 0;
    for (let b = 0; b < columns; b++) {
      const now = power[row + b];
      let before = 0;
      // From the newest backwards: most often one of the first is louder already.
      for (let i = row - 2 * width + b; i >= oldest && before < now; i -= width)
        if (power[i] > before) before = power[i];
      if (now <= before) continue;
      const risen = Math.log((1 + gamma * now) / (1 + gamma * before));
      sum += risen;
      bands[bandOf[b]][f] += risen * shares[b];
    }
    all[f] = sum / columns;
  }
  return { all, bands };
}
