import type { Lane } from '../../shared/loop/lane.ts';
import { beatsOf, beatsToSamples, loopLength } from '../../shared/loop/length.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Hertz, Samples, Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { swung } from '../../shared/time/grid.ts';
import type { PlainBeat } from './sound.ts';

/** A plain kick, hat and click, synthesised: nothing but something to play against. */

/** A skin that is struck: a sine that falls from 150 to 50 Hz and dies away. */
function kick(rate: Hertz): Float32Array {
  return shape(rate, 0.25, (t) => {
    const phase = 50 * t + (100 / 30) * (1 - Math.exp(-30 * t));
    return 0.5 * Math.sin(2 * Math.PI * phase) * Math.exp(-14 * t);
  });
}

/** A short hiss without its low end. */
function hat(rate: Hertz): Float32Array {
  const random = makeRandom(9);
  let before = 0;
  return shape(rate, 0.06, (t) => {
    const noise = random() * 2 - 1;
    const bright = noise - before;
    before = noise;
    return 0.1 * bright * Math.exp(-70 * t);
  });
}

/** A short tone, higher on the one. */
export function clickSound(rate: Hertz, one: boolean): Float32Array {
  const pitch = one ? 1568 : 1047;
  return shape(rate, 0.04, (t) => 0.3 * Math.sin(2 * Math.PI * pitch * t) * Math.exp(-90 * t));
}

/** Fades the last tenth, so that nothing ends in a step. */
function shape(rate: Hertz, seconds: Seconds, wave: (t: Seconds) => number): Float32Array {
  const length = Math.round(seconds * rate);
  return Float32Array.from({ length }, (_, i) => {
    const left = (length - i) / (length / 10);
    return wave(i / rate) * Math.min(1, left);
  });
}

function addRound(loop: Float32Array, sound: Float32Array, at: Samples): void {
  for (let i = 0; i < sound.length; i++) loop[(at + i) % loop.length] += sound[i];
}

/** A beat exactly as long as the lane's loop: kick on the beats 1 and 3, hats on the halves (swung), a click on each beat. */
export function renderPlainBeat(
  lane: Pick<Lane, 'bars' | 'beatsPerBar' | 'bpm' | 'swing'>,
  parts: PlainBeat,
  rate: Hertz,
): Audio {
  const loop = new Float32Array(loopLength(lane, rate));
  const sounds = {
    kick: kick(rate),
    hat: hat(rate),
    one: clickSound(rate, true),
    click: clickSound(rate, false),
  };
  for (let beat = 0; beat < beatsOf(lane); beat++) {
    const inBar = beat % lane.beatsPerBar;
    const at = beatsToSamples(beat, lane.bpm, rate);
    if (parts.kick && inBar % 2 === 0) addRound(loop, sounds.kick, at);
    if (parts.click) addRound(loop, inBar === 0 ? sounds.one : sounds.click, at);
    if (parts.hat)
      for (const half of [beat, beat + 0.5])
        addRound(loop, sounds.hat, beatsToSamples(swung(half, lane.swing, '8'), lane.bpm, rate));
  }
  return { sampleRate: rate, channels: [loop] };
}

/** Clicks for the bars that are counted in. */
export function renderCountIn(
  lane: Pick<Lane, 'beatsPerBar' | 'bpm'>,
  bars: number,
  rate: Hertz,
): Audio {
  return renderPlainBeat(
    { ...lane, bars, swing: 50 },
    { kick: false, hat: false, click: true },
    rate,
  );
}
