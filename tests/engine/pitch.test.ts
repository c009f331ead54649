import { describe, expect, it } from 'vitest';
import { shiftPitch } from '../../shared/warp/pitch.ts';

const rate = 44100;

/** Frequency of a lone tone by the zero crossings of its middle half, interpolated. */
function hertzOf(x: Float32Array): number {
  let first = -1;
  let last = -1;
  let count = 0;
  for (let i = Math.round(x.length * 0.25); i < x.length * 0.75; i++) {
    if (x[i] > 0 || x[i + 1] <= 0) continue;
    const at = i + x[i] / (x[i] - x[i + 1]);
    if (first < 0) first = at;
    else count++;
    last = at;
  }
  return (count * rate) / (last - first);
}

const sine = (hertz: number, seconds: number): Float32Array =>
  Float32Array.from(
    { length: Math.round(seconds * rate) },
    (_, i) => 0.4 * Math.sin((2 * Math.PI * hertz * i) / rate),
  );

describe('shiftPitch', () => {
  it('moves a steady tone by what is asked, to within 2 cents, at the same length', () => {
    for (const semitones of [-12, -7, -1, 1, 5, 12]) {
      const cents = semitones === 5 ? 37 : 0;
      const tone = sine(331, 1);
      const input = { sampleRate: rate, channels: [tone] };
      const [output] = shiftPitch([input], { semitones, cents, formants: 'moved' });
      expect(output.channels[0].length).toBe(tone.length);
      const moved = 1200 * Math.log2(hertzOf(output.channels[0]) / 331);
      expect(Math.abs(moved - 100 * semitones - cents)).toBeLessThan(2);
    }
  });

  it('leaves attacks where they are, to within 1 ms', () => {
    const clicks = [0.3, 0.62, 1.1];
    const x = Float32Array.from({ length: 1.5 * rate }, (_, i) =>
      clicks.reduce((s, at) => {
        const t = i / rate - at;
        return t < 0 ? s : s + 0.5 * Math.exp(-30 * t) * Math.sin(2 * Math.PI * 700 * t);
      }, 0),
    );
    for (const semitones of [-12, -5, 4, 12]) {
      const shift = { semitones, cents: 0, formants: 'moved' } as const;
      const [output] = shiftPitch([{ sampleRate: rate, channels: [x] }], shift);
      for (const at of clicks) {
        // First sample that passes a tenth of the peak, against the same in the source.
        const found = [x, output.channels[0]].map((channel) => {
          for (let i = Math.round((at - 0.02) * rate); i < (at + 0.02) * rate; i++)
            if (Math.abs(channel[i]) > 0.04) return i;
          return Number.POSITIVE_INFINITY;
        });
        expect(Math.abs(found[1] - found[0]) / rate).toBeLessThan(0.001);
      }
    }
  });

  it('keeps formants where they are, or moves them along', () => {
    // A pulse train of 150 Hz through a resonance at 1 kHz.
    const x = new Float32Array(rate);
    let a = 0;
    let b = 0;
    for (let i = 0; i < x.length; i++) {
      const y =
        (i % 294 === 0 ? 0.2 : 0) + 1.94 * Math.cos((2 * Math.PI * 1000) / rate) * a - 0.941 * b;
      b = a;
      a = y;
      x[i] = y;
    }
    const centre = (signal: Float32Array): number => {
      // Where power lies on average between 300 and 3000 Hz, by a bank of single frequencies.
      let top = 0;
      let sum = 0;
      for (let hertz = 300; hertz < 3000; hertz += 10) {
        let re = 0;
        let im = 0;
        for (let i = rate / 4; i < rate / 4 + 8192; i++) {
          const w = Math.sin((Math.PI * (i - rate / 4)) / 8192) ** 2;
          re += w * signal[i] * Math.cos((2 * Math.PI * hertz * i) / rate);
          im += w * signal[i] * Math.sin((2 * Math.PI * hertz * i) / rate);
        }
        top += hertz * (re * re + im * im);
        sum += re * re + im * im;
      }
      return top / sum;
    };
    const run = (formants: 'kept' | 'moved') =>
      shiftPitch([{ sampleRate: rate, channels: [x] }], { semitones: 7, cents: 0, formants })[0]
        .channels[0];
    const before = centre(x);
    const moved = centre(run('moved')) / before;
    const kept = centre(run('kept')) / before;
    // A fifth up is 1.5; the average is pulled a little to the middle of what is looked at.
    expect(moved).toBeGreaterThan(1.35);
    expect(Math.abs(kept - 1)).toBeLessThan(0.12);
  });

  it('copies where nothing is shifted and is linear over stems', () => {
    const stems = [sine(220, 0.6), sine(554, 0.6)].map((c) => ({
      sampleRate: rate,
      channels: [c],
    }));
    const none = shiftPitch(stems, { semitones: 0, cents: 0, formants: 'kept' });
    expect(none[1].channels[0]).toEqual(stems[1].channels[0]);
    const mix = stems[0].channels[0].map((v, i) => v + stems[1].channels[0][i]);
    for (const formants of ['kept', 'moved'] as const) {
      const shift = { semitones: 3, cents: -20, formants };
      const parts = shiftPitch(stems, shift);
      const [whole] = shiftPitch([{ sampleRate: rate, channels: [mix] }], shift);
      let d = 0;
      let p = 0;
      whole.channels[0].forEach((v, i) => {
        d += (v - parts[0].channels[0][i] - parts[1].channels[0][i]) ** 2;
        p += v * v;
      });
      expect(10 * Math.log10(d / p)).toBeLessThan(-100);
    }
  });
});
