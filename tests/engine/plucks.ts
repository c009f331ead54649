import type { Audio } from '../../shared/take/audio.ts';

/** Plucked tones of changing pitch on the given moments. */
export function plucks(
  times: readonly number[],
  seconds: number,
  gain: number,
  transpose = 0,
): Audio {
  const sampleRate = 44100;
  const channel = new Float32Array(Math.round(seconds * sampleRate));
  times.forEach((time, k) => {
    const hertz = 196 * 2 ** (([0, 3, 7, 10, 5][k % 5] + transpose) / 12);
    const from = Math.round(time * sampleRate);
    for (let i = 0; i < sampleRate * 0.8 && from + i < channel.length; i++) {
      const t = i / sampleRate;
      const tone = Math.sin(2 * Math.PI * hertz * t) + 0.4 * Math.sin(4 * Math.PI * hertz * t);
      channel[from + i] +=
        gain * Math.exp(-4 * t) * (1 - t / 0.8) ** 2 * Math.min(1, i / 40) * tone;
    }
  });
  return { sampleRate, channels: [channel, channel.map((v) => v * 0.8)] };
}

/** Moments about half a second apart that slow down and hurry. */
export function freeTimes(count: number, first = 0.5): number[] {
  const times: number[] = [];
  for (let i = 0, t = first; i < count; i++) {
    times.push(t);
    t += 0.5 + 0.07 * Math.sin(i / 3);
  }
  return times;
}
