import type { Decibels, Hertz, Samples, Seconds } from '../math/units.ts';
import type { Frames } from './attacks.ts';

/** How long before an attack a release is looked for, and how long after the attack before that. */
const within: Seconds = 0.25;
const apart: Seconds = 0.08;
/** Power this short before an attack may be the attack's own already. */
const clear: Seconds = 0.004;
/** Over so much time power is averaged, and so much it has to fall by in so long, over what it usually falls by. */
const settling: Seconds = 0.012;
const span: Seconds = 0.04;
const fall: Decibels = 5;
/** How long before the middle of the frames that are the first to fall sound is let go. */
const ahead: Seconds = 0.015;

/**
 * Where the sound of a band is let go shortly before an attack: the start of its fastest fall, if that is far
 * faster than it dies away by itself and lasts until the attack.
 *
 * @param from attack before it, and `to` the attack, in samples of the source
 * @param usual fall of the band between the two, in decibels a second
 */
export function releaseBefore(
  frames: Frames,
  band: number,
  from: Samples,
  to: Samples,
  usual: Decibels,
  sampleRate: Hertz,
): Samples | undefined {
  const { hop, count, width, power, split } = frames;
  const framesIn = (time: Seconds): number => Math.max(1, Math.round((time * sampleRate) / hop));
  const mean = framesIn(settling);
  const long = framesIn(span);
  const first = Math.max(
    0,
    Math.ceil(Math.max(from + apart * sampleRate, to - within * sampleRate) / hop),
  );
  const last = Math.min(count - 1, Math.floor((to - clear * sampleRate) / hop));
  if (last - first < long + mean) return undefined;
  const levels: Decibels[] = [];
  for (let f = first; f + mean <= last; f++) {
    let sum = 1e-12;
    for (let i = f; i < f + mean; i++)
      for (let k = split[band]; k < split[band + 1]; k++) sum += power[i * width + k];
    levels.push(10 * Math.log10(sum));
  }
  const end = levels[levels.length - 1];
  let most = 0;
  let at = -1;
  levels.forEach((level, i) => {
    // Where the attack comes first, what it fell by until then.
    const fallen = level - (levels[i + long] ?? end);
    if (fallen > most) {
      most = fallen;
      at = i;
    }
  });
  if (at < 0 || most < fall + usual * span || levels[at] - end < fall) return undefined;
  return Math.round((first + at + mean / 2) * hop - ahead * sampleRate);
}
