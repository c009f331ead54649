import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  asShift,
  nearestInKey,
  notesOfKey,
  toConcertPitch,
} from '../../shared/hear/pitch/nearest-note.ts';
import { noteFrequency } from '../../shared/hear/pitch/note.ts';
import { playedNotes, summariseTuning, trackPitch } from '../../shared/hear/pitch/pitch-track.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { tunerLines } from '../../src/app/tuner/lines.ts';

const sure = (cents: number) => ({ a4: 440 * 2 ** (cents / 1200), cents, confidence: 0.9 });
const dMinor = { tonic: 'D', mode: 'minor', confidence: 0.9 } as const;

describe('the notes of a key', () => {
  // Key signatures as any theory book prints them (common practice, no source).
  test.each([
    [{ tonic: 'C', mode: 'major' }, [0, 2, 4, 5, 7, 9, 11]],
    [{ tonic: 'D', mode: 'minor' }, [0, 2, 4, 5, 7, 9, 10]],
    [{ tonic: 'F#', mode: 'minor' }, [1, 2, 4, 6, 8, 9, 11]],
    [{ tonic: 'Eb', mode: 'major' }, [0, 2, 3, 5, 7, 8, 10]],
  ] as const)('%j', (key, notes) => {
    expect(notesOfKey({ ...key, confidence: 1 })).toEqual(notes);
  });

  test('are all twelve where the key is unclear', () => {
    expect(notesOfKey({ tonic: 'unclear', mode: 'unclear', confidence: 0 })).toHaveLength(12);
  });
});

describe('the nearest note of a key', () => {
  const to = (note: number, cents: number, tuning = sure(0), key = dMinor) => {
    const {
      note: target,
      semitones,
      cents: rest,
    } = nearestInKey({ note, cents, confidence: 1 }, key, tuning);
    return [target, semitones, rest];
  };

  test('a note in the key is only tuned, one between is moved to the nearer', () => {
    expect(to(62, 14)).toEqual([62, 0, -14]);
    expect(to(61, -20)).toEqual([60, -1, 20]);
    expect(to(61, 20)).toEqual([62, 1, -20]);
    // As near to both: the higher.
    expect(to(61, 0)).toEqual([62, 1, 0]);
  });

  test('agrees with a take that is tuned high, and not with a tuning that is a guess', () => {
    expect(to(62, 12, sure(12))).toEqual([62, 0, 0]);
    expect(to(62, 0, sure(12))).toEqual([62, 0, 12]);
    expect(to(62, 0, { ...sure(12), confidence: 0.05 })).toEqual([62, 0, 0]);
  });

  test('lies in the key, at most a semitone off in these scales, and brought there stays there', () => {
    const key = fc.record({
      tonic: fc.constantFrom('C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'),
      mode: fc.constantFrom('major' as const, 'minor' as const),
      confidence: fc.constant(1),
    });
    fc.assert(
      fc.property(
        fc.integer({ min: 20, max: 100 }),
        fc.double({ min: -50, max: 50, noNaN: true }),
        key,
        fc.double({ min: -40, max: 40, noNaN: true }),
        (note, cents, key, off) => {
          const found = nearestInKey({ note, cents, confidence: 1 }, key, sure(off));
          expect(notesOfKey(key)).toContain(((found.note % 12) + 12) % 12);
          expect(Math.abs(found.cents)).toBeLessThanOrEqual(50);
          const moved = note + cents / 100 + found.semitones + found.cents / 100;
          expect(Math.abs(moved - (found.note + off / 100))).toBeLessThan(0.00501);
          const rest = moved - Math.round(moved);
          const heard = { note: Math.round(moved), cents: rest * 100, confidence: 1 };
          const again = nearestInKey(heard, key, sure(off));
          expect(again.note).toBe(found.note);
          expect(Math.abs(again.semitones * 100 + again.cents)).toBeLessThanOrEqual(1);
        },
      ),
      { seed: 20260301 },
    );
  });
});

test('a shift of any size is whole semitones and at most half of one', () => {
  expect(asShift(1.37)).toEqual({ semitones: 1, cents: 37 });
  expect(asShift(-0.4)).toEqual({ semitones: 0, cents: -40 });
  expect(asShift(-1.5)).toEqual({ semitones: -1, cents: -50 });
});

test('concert pitch is as far the other way as the take is off', () => {
  expect(toConcertPitch(sure(7.4))).toBe(-7);
  expect(toConcertPitch({ ...sure(7.4), confidence: 0.1 })).toBeNull();
});

/** A player of one note after the other, with overtones, each [note, cents, seconds] after a breath. */
function played(
  notes: readonly (readonly [number, number, number])[],
  rate: number,
  vibrato = 0,
): Audio {
  const random = makeRandom(3);
  const breath = Math.round(0.12 * rate);
  const channel: number[] = [];
  for (const [note, cents, seconds] of notes) {
    for (let i = 0; i < breath; i++) channel.push(0.0005 * (random() - 0.5));
    const length = Math.round(seconds * rate);
    let phase = 0;
    for (let i = 0; i < length; i++) {
      const t = i / rate;
      const swing = vibrato * Math.sin(2 * Math.PI * 5.5 * t);
      phase += (2 * Math.PI * noteFrequency(note + (cents + swing) / 100)) / rate;
      const rise = Math.min(1, t / 0.01, (seconds - t) / 0.01);
      let v = 0;
      for (let k = 1; k <= 5; k++) v += Math.sin(k * phase) / k;
      channel.push(0.2 * rise * v + 0.001 * (random() - 0.5));
    }
  }
  return { sampleRate: rate, channels: [Float32Array.from(channel)] };
}

describe('a tuner over a stem', () => {
  const melody = [
    [40, -14, 0.8],
    [52, -6, 0.5],
    [57, -6, 0.6],
    [64, -7, 0.5],
    [69, -5, 0.4],
    [76, -6, 0.5],
  ] as const;

  test.each([22050, 44100, 48000, 96000])('hears each note within 2 cents (%i Hz)', (rate) => {
    const notes = playedNotes(trackPitch(played(melody, rate)));
    expect(notes.map((note) => note.note)).toEqual(melody.map(([note]) => note));
    let at = 0;
    for (const [i, [, cents, seconds]] of melody.entries()) {
      expect(Math.abs(notes[i].cents - cents)).toBeLessThan(2);
      at += 0.12;
      expect(Math.abs(notes[i].start - at)).toBeLessThan(0.06);
      expect(Math.abs(notes[i].end - (at + seconds))).toBeLessThan(0.06);
      at += seconds;
    }
  });

  test('says what is usual and what is worst', () => {
    const summary = summariseTuning(playedNotes(trackPitch(played(melody, 44100))));
    expect(Math.abs((summary?.usual ?? 99) + 6)).toBeLessThan(1.5);
    expect(summary?.worst.note).toBe(40);
    expect(Math.abs((summary?.worst.cents ?? 99) + 14)).toBeLessThan(2);
    expect(summariseTuning([])).toBeNull();
  });

  test('against another A4 every note stands as much lower as that is higher', () => {
    const moments = trackPitch(played(melody, 44100));
    const [at440, at442] = [playedNotes(moments), playedNotes(moments, 442)];
    const off = 1200 * Math.log2(442 / 440);
    at440.forEach((note, i) => {
      expect(Math.abs(note.cents - at442[i].cents - off)).toBeLessThan(1e-6);
    });
  });

  test('vibrato counts by its middle and stays one note', () => {
    const notes = playedNotes(trackPitch(played([[69, 9, 1.2]], 44100, 35)));
    expect(notes).toHaveLength(1);
    expect(Math.abs(notes[0].cents - 9)).toBeLessThan(6);
  });

  test('a stretch is heard as the whole is there', () => {
    const audio = played(melody, 44100);
    const whole = playedNotes(trackPitch(audio));
    const [, second] = whole;
    const part = playedNotes(
      trackPitch(audio, { from: second.start - 0.05, until: second.end + 0.05 }),
    );
    expect(part).toHaveLength(1);
    expect(Math.abs(part[0].cents - second.cents)).toBeLessThan(0.5);
    expect(Math.abs(part[0].start - second.start)).toBeLessThan(0.05);
  });

  test('chords, noise and silence have no pitch', () => {
    const random = makeRandom(9);
    const noise = Float32Array.from({ length: 44100 }, () => random() - 0.5);
    const chord = [60, 64, 67, 71].map((note) => played([[note, 0, 1]], 44100).channels[0]);
    const together = chord[0].map((_, i) => chord.reduce((sum, one) => sum + (one[i] ?? 0), 0));
    const none = new Float32Array(44100);
    for (const channel of [noise, together, none, new Float32Array(3)]) {
      const notes = playedNotes(trackPitch({ sampleRate: 44100, channels: [channel] }));
      expect(notes).toEqual([]);
    }
  });
});

test('lines of the tuner hold the whole stretch, one after the other, none longer than 20 s', () => {
  const seconds = fc.double({ min: 0, max: 90, noNaN: true });
  fc.assert(
    fc.property(fc.array(seconds, { maxLength: 6 }), seconds, seconds, (starts, a, length) => {
      const phrases = [...new Set(starts)]
        .sort((x, y) => x - y)
        .map((start) => ({ start, end: start + 1, energy: -20 }));
      const until = a + length + 0.1;
      const lines = tunerLines(phrases, a, until);
      expect(lines[0].from).toBe(a);
      expect(lines.at(-1)?.until).toBe(until);
      lines.forEach((line, i) => {
        expect(line.until - line.from).toBeLessThanOrEqual(20.000001);
        if (i > 0) expect(line.from).toBe(lines[i - 1].until);
      });
      const labels = lines.filter((line) => line.label !== '').map((line) => Number(line.label));
      const first = phrases.findLastIndex(({ start }) => start <= a) + 1;
      const inside = phrases.flatMap(({ start }, i) => (start > a && start < until ? [i + 1] : []));
      expect(labels).toEqual([...(first > 0 ? [first] : []), ...inside]);
    }),
    { seed: 20260302 },
  );
});
