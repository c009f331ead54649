import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import { type DemoTake, demoTruth, renderDemo } from '../../demo/demo-take.ts';
import { playerOrder } from '../../demo/names.ts';
import { score } from '../../demo/score.ts';
import { measureLoudness } from '../../shared/hear/loudness/loudness.ts';
import { RealFft } from '../../shared/math/fft.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { lengthOf, secondsOf } from '../../shared/take/audio.ts';

let take: DemoTake;
let hash = '';

const stemOf = (player: (typeof playerOrder)[number]) =>
  take.stems[playerOrder.indexOf(player)].audio;

/** Middle of a stereo sound. */
function mono(audio: Audio): Float64Array {
  const [left, right] = audio.channels;
  const middle = new Float64Array(left.length);
  for (let n = 0; n < middle.length; n++) middle[n] = (left[n] + right[n]) / 2;
  return middle;
}

function hashOf(rendered: DemoTake): string {
  const sum = createHash('sha256');
  for (const audio of [rendered.mix, ...rendered.stems.map((stem) => stem.audio)])
    for (const channel of audio.channels) sum.update(new Uint8Array(channel.buffer));
  return sum.update(JSON.stringify(rendered.truth)).digest('hex');
}

const decibels = (power: number) => 10 * Math.log10(power + 1e-20);

beforeAll(() => {
  hash = hashOf(renderDemo());
  take = renderDemo();
});

describe('the demo take as a file', () => {
  it('is the same bytes every time', () => {
    expect(hashOf(take)).toBe(hash);
  });

  it('is stereo at 44.1 kHz and as long as its truth says, mix and stems alike', () => {
    expect(take.truth.seconds).toBeGreaterThan(60);
    expect(take.truth.seconds).toBeLessThanOrEqual(90);
    for (const audio of [take.mix, ...take.stems.map((stem) => stem.audio)]) {
      expect(audio.sampleRate).toBe(44100);
      expect(audio.channels.length).toBe(2);
      for (const channel of audio.channels) expect(channel.length).toBe(lengthOf(take.mix));
    }
    expect(secondsOf(take.mix)).toBeCloseTo(take.truth.seconds, 4);
  });

  it('is the sum of its stems to the last bit, in whatever order they are added', () => {
    const orders = [
      [0, 1, 2],
      [2, 0, 1],
      [1, 2, 0],
    ];
    let wrong = 0;
    take.mix.channels.forEach((mixed, side) => {
      for (const order of orders) {
        const [a, b, c] = order.map((index) => take.stems[index].audio.channels[side]);
        for (let n = 0; n < mixed.length; n++)
          if (Math.fround(Math.fround(a[n] + b[n]) + c[n]) !== mixed[n]) wrong++;
      }
    });
    expect(wrong).toBe(0);
  });

  it('has the level of a careful recording: about -20 LUFS, headroom, no offset, a quiet room', () => {
    const loudness = measureLoudness(take.mix);
    expect(loudness.integrated).toBeGreaterThan(-22);
    expect(loudness.integrated).toBeLessThan(-19);
    expect(loudness.truePeak).toBeLessThan(-2.5);
    expect(loudness.truePeak).toBeGreaterThan(-5);
    for (const channel of take.mix.channels) {
      let mean = 0;
      for (const value of channel) mean += value / channel.length;
      expect(Math.abs(mean)).toBeLessThan(1e-5);
      const rate = take.mix.sampleRate;
      for (const at of [0, channel.length - Math.round(0.5 * rate)]) {
        let power = 0;
        const count = Math.round(0.5 * rate);
        for (let n = at; n < at + count; n++) power += channel[n] ** 2 / count;
        expect(decibels(power)).toBeLessThan(-68);
        expect(decibels(power)).toBeGreaterThan(-80);
      }
    }
  });

  it('moves through more than 20 dB, from a bar of it to another', () => {
    const sound = mono(take.mix);
    const { bars } = take.truth;
    const levels = bars.slice(0, -1).map((bar, index) => {
      const from = Math.round(bar * 44100);
      const until = Math.round(bars[index + 1] * 44100);
      let power = 0;
      for (let n = from; n < until; n++) power += sound[n] ** 2 / (until - from);
      return decibels(power);
    });
    expect(Math.max(...levels) - Math.min(...levels)).toBeGreaterThan(20);
  });

  it('is heard in one room: the channels differ, and belong together', () => {
    for (const { audio } of take.stems) {
      const [left, right] = audio.channels;
      let both = 0;
      let ll = 0;
      let rr = 0;
      for (let n = 0; n < left.length; n++) {
        both += left[n] * right[n];
        ll += left[n] ** 2;
        rr += right[n] ** 2;
      }
      const alike = both / Math.sqrt(ll * rr);
      expect(alike).toBeGreaterThan(0.15);
      expect(alike).toBeLessThan(0.9);
    }
  });
});

describe('the truth of the demo take', () => {
  it('is known without the sound', () => {
    expect(demoTruth()).toEqual(take.truth);
  });

  it('counts every beat and every bar once', () => {
    const { beats, bars, seconds } = take.truth;
    expect(beats[0].count).toBe(4);
    beats.forEach((beat, index) => {
      if (index === 0) return;
      const before = beats[index - 1];
      expect(beat.count).toBe(1 + (before.count % 4));
      expect(beat.bar).toBe(before.bar + (beat.count === 1 ? 1 : 0));
      // Between 120 and 16 a minute: the slowest holds a fermata and a breath.
      expect(beat.time - before.time).toBeGreaterThan(0.5);
      expect(beat.time - before.time).toBeLessThan(3.75);
    });
    expect(bars).toEqual(beats.filter((beat) => beat.count === 1).map((beat) => beat.time));
    expect(beats[beats.length - 1].time).toBeLessThan(seconds);
  });

  it('breathes: the tempo moves by more than a third between beats that nothing interrupts', () => {
    const { beats } = take.truth;
    const lengths = beats.slice(1).map((beat, index) => beat.time - beats[index].time);
    lengths.sort((a, b) => a - b);
    const at = (share: number) => lengths[Math.floor(share * (lengths.length - 1))];
    expect(at(0.85) / at(0.1)).toBeGreaterThan(1.33);
  });

  it('has onsets in order, within the phrases they belong to', () => {
    const { onsets, phrases, seconds } = take.truth;
    onsets.forEach((onset, index) => {
      if (index > 0) expect(onset.time).toBeGreaterThanOrEqual(onsets[index - 1].time);
      expect(onset.level).toBeGreaterThan(0);
      expect(onset.level).toBeLessThanOrEqual(1);
      expect(onset.time).toBeLessThan(seconds);
    });
    expect(phrases.length).toBe(score.length);
    phrases.forEach((phrase, index) => {
      expect(phrase.end).toBeGreaterThan(phrase.start);
      if (index > 0) expect(phrase.start).toBeGreaterThanOrEqual(phrases[index - 1].end);
      expect(onsets.some((onset) => onset.time === phrase.start)).toBe(true);
    });
    expect(onsets.filter((onset) => onset.ghost && onset.player === 'drum').length).toBeGreaterThan(
      10,
    );
  });

  it('lets the others follow the leader by 5 to 25 ms', () => {
    const { onsets, beats } = take.truth;
    for (const player of ['clarinet', 'drum'] as const) {
      const late = beats.flatMap((beat) => {
        const near = onsets.find(
          (onset) => onset.player === player && Math.abs(onset.time - beat.time) < 0.03,
        );
        return near ? [near.time - beat.time] : [];
      });
      expect(late.length).toBeGreaterThan(15);
      expect(Math.min(...late)).toBeGreaterThanOrEqual(0.005 - 1e-9);
      expect(Math.max(...late)).toBeLessThanOrEqual(0.025 + 1e-9);
      expect(new Set(late.map((value) => value.toFixed(5))).size).toBeGreaterThan(late.length / 2);
    }
  });

  it('brings the opening back a whole tone higher, note for note', () => {
    const notes = (phrase: number) => {
      const { start } = take.truth.phrases[phrase];
      const next = take.truth.phrases[phrase + 1]?.start ?? Number.POSITIVE_INFINITY;
      return take.truth.onsets
        .filter((o) => o.player === 'guitar' && o.time >= start && o.time < next)
        .map((o) => o.midi ?? 0);
    };
    const { like } = take.truth.phrases[5];
    expect(like).toEqual({ phrase: 0, semitones: 2 });
    // Chords are spread anew each time, so their order is not compared.
    const sorted = (midis: number[]) => [...midis].sort((a, b) => a - b);
    expect(sorted(notes(5))).toEqual(sorted(notes(0).map((midi) => midi + 2)));
  });
});

describe('the sound against its truth', () => {
  it('starts each stroke and pluck within 2 ms of its onset', () => {
    for (const player of ['guitar', 'drum'] as const) {
      const sound = mono(stemOf(player));
      // The second difference favours what is new and bright over what still rings.
      const sums = new Float64Array(sound.length + 1);
      for (let n = 2; n < sound.length; n++)
        sums[n + 1] = sums[n] + (sound[n] - 2 * sound[n - 1] + sound[n - 2]) ** 2;
      const own = take.truth.onsets.filter((onset) => onset.player === player);
      const lone = own.filter((onset, k) => k === 0 || onset.time - own[k - 1].time > 0.045);
      const width = 88;
      const off = lone.map((onset) => {
        const at = Math.round(onset.time * 44100);
        let best = 0;
        let most = 0;
        for (let n = at - 400; n <= at + 400; n++) {
          const after = sums[n + width] - sums[n] + 1e-12;
          const before = sums[n] - sums[n - width] + 1e-12;
          if (after / before > most) {
            most = after / before;
            best = n;
          }
        }
        return Math.abs(best - at) / 44.1;
      });
      expect(lone.length).toBeGreaterThan(100);
      const near = off.filter((ms) => ms <= 2).length / off.length;
      // A plucked string may hide behind another that the same hand stops: rarely.
      expect(near).toBeGreaterThanOrEqual(player === 'drum' ? 1 : 0.98);
    }
  });

  it('lets the clarinet speak softly, from its onset on, wherever it comes out of a silence', () => {
    const sound = mono(stemOf('clarinet'));
    const own = take.truth.onsets.filter((onset) => onset.player === 'clarinet');
    const level = (from: number, until: number) => {
      let power = 0;
      for (let n = Math.round(from * 44100); n < until * 44100; n++) power += sound[n] ** 2;
      return decibels(power / ((until - from) * 44100));
    };
    const after = own.filter((onset, k) => {
      const before = k === 0 ? 0 : own[k - 1].time;
      return (
        !onset.slurred &&
        onset.time - before > 1.3 &&
        level(onset.time - 0.2, onset.time - 0.1) < -50
      );
    });
    expect(after.length).toBeGreaterThanOrEqual(3);
    for (const { time } of after) {
      const before = level(time - 0.03, time - 0.015);
      expect(level(time + 0.1, time + 0.2) - before).toBeGreaterThan(16);
      expect(level(time + 0.025, time + 0.04) - before).toBeGreaterThan(10);
    }
  });

  it('has the clarinet 7 cents flat and the guitar at 440 Hz, within 1 cent', () => {
    for (const player of ['guitar', 'clarinet'] as const) {
      const cents = centsOf(player);
      expect(cents.length).toBeGreaterThan(15);
      cents.sort((a, b) => a - b);
      const median = cents[cents.length >> 1];
      expect(Math.abs(median - take.truth.tuning[player].cents)).toBeLessThan(1);
    }
  });

  it('makes no two strokes alike', () => {
    const sound = mono(stemOf('drum'));
    const own = take.truth.onsets.filter((onset) => onset.player === 'drum');
    const pieces = own.slice(20, 60).map((onset) => {
      const at = Math.round(onset.time * 44100);
      const piece = sound.slice(at, at + 2000);
      const norm = Math.sqrt(piece.reduce((sum, value) => sum + value * value, 0));
      return piece.map((value) => value / norm);
    });
    pieces.forEach((piece, i) => {
      for (let j = 0; j < i; j++) {
        let alike = 0;
        for (let n = 0; n < piece.length; n++) alike += piece[n] * pieces[j][n];
        expect(alike).toBeLessThan(0.995);
      }
    });
  });
});

/**
 * How far a player's long notes are from 440 Hz and equal temperament (ISO 16; f = 440 * 2^((n - 69)/12)):
 * the strongest of the first four partials, between bins by the parabola through the spectrum's
 * logarithms, which is exact for a Gaussian window (Gasior and Gonzalez, CERN AB-Note-2004-021).
 */
function centsOf(player: 'guitar' | 'clarinet'): number[] {
  const sound = mono(stemOf(player));
  const size = 16384;
  const fft = new RealFft(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const power = (k: number) => re[k] ** 2 + im[k] ** 2 + 1e-30;
  const own = take.truth.onsets.filter((onset) => onset.player === player);
  return own.flatMap(({ midi = 0, time }, index) => {
    const next = own[index + 1]?.time ?? take.truth.seconds;
    if (next - time < (player === 'clarinet' ? 0.5 : 0.3)) return [];
    const from = Math.round((time + 0.09) * 44100);
    const piece = new Float64Array(size);
    for (let n = 0; n < size; n++) {
      const x = (n - size / 2) / (size / 2) / 0.36;
      piece[n] = sound[from + n] * Math.exp(-0.5 * x * x);
    }
    fft.forward(piece, re, im);
    const wanted = 440 * 2 ** ((midi - 69) / 12);
    let most = 0;
    let cents = 0;
    for (const partial of [1, 2, 3, 4]) {
      const centre = Math.round((partial * wanted * size) / 44100);
      let best = centre;
      for (let k = centre - 2; k <= centre + 2; k++) if (power(k) > power(best)) best = k;
      if (power(best) < most) continue;
      most = power(best);
      const [a, b, c] = [best - 1, best, best + 1].map((k) => Math.log(power(k)));
      const place = best + (0.5 * (a - c)) / (a - 2 * b + c);
      cents = 1200 * Math.log2((place * 44100) / size / wanted / partial);
    }
    return [cents];
  });
}
