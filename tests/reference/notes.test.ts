import { expect, test } from 'vitest';
import { hearNote, noteFrequency, noteName } from '../../shared/hear/pitch/note.ts';

test('equal temperament on A4 = 440 Hz (ISO 16:1975), f = 440 * 2^((n - 69) / 12)', () => {
  expect(noteFrequency(69)).toBe(440);
  expect(noteFrequency(21)).toBeCloseTo(27.5, 10);
  expect(noteFrequency(0)).toBeCloseTo(8.175798915643707, 10);
  expect(noteFrequency(60)).toBeCloseTo(261.6255653005986, 9);
  expect(noteFrequency(108)).toBeCloseTo(4186.009044809578, 8);
  expect(noteFrequency(127)).toBeCloseTo(12543.853951415975, 7);
  expect(noteFrequency(69, 442)).toBe(442);
});

test('note 60 is middle C (MIDI 1.0 Detailed Specification 4.2), called C4 here', () => {
  expect([60, 69, 0, 127, 63].map(noteName)).toEqual(['C4', 'A4', 'C-1', 'G9', 'Eb4']);
});

/** A plucked tone with overtones, after a short noise. */
function tone(hertz: number, rate: number, seconds = 0.8) {
  const channel = Float32Array.from({ length: Math.round(rate * seconds) }, (_, i) => {
    const t = i / rate;
    let v = 0;
    for (let k = 1; k <= 6; k++) v += Math.sin(2 * Math.PI * hertz * k * t + k) / k;
    return 0.2 * v * Math.exp(-2 * t);
  });
  return { sampleRate: rate, channels: [channel] };
}

test('a tone is heard as the note it is, to a few cents', () => {
  for (const rate of [22050, 44100, 48000, 96000])
    for (const [note, cents] of [
      [40, 0],
      [52, 12],
      [60, -20],
      [69, 0],
      [76, 33],
      [84, -8],
    ]) {
      const heard = hearNote(tone(noteFrequency(note + cents / 100), rate));
      expect(heard?.note).toBe(note);
      expect(Math.abs((heard?.cents ?? 99) - cents)).toBeLessThan(4);
    }
});

test('noise, silence and a click have no note', () => {
  let seed = 1;
  const noise = Float32Array.from({ length: 40000 }, () => {
    seed = (seed * 16807) % 2147483647;
    return seed / 1073741823.5 - 1;
  });
  expect(hearNote({ sampleRate: 44100, channels: [noise] })).toBeNull();
  expect(hearNote({ sampleRate: 44100, channels: [new Float32Array(40000)] })).toBeNull();
  expect(hearNote({ sampleRate: 44100, channels: [Float32Array.of(1, 0, 0)] })).toBeNull();
});
