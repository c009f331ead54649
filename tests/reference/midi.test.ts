import { type MidiData, parseMidi } from 'midi-file';
import { describe, expect, test } from 'vitest';
import type { Beat, Phrase } from '../../shared/hear/heard.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { tempo, ticksPerQuarter, variableLength } from '../../shared/pack/midi-file.ts';
import { writeTempoMap } from '../../shared/pack/tempo-map.ts';

/*
 * Standard MIDI File 1.0, MIDI Manufacturers Association RP-001. Files are read back with midi-file (MIT).
 */

test("variable-length quantities are those of the text's table", () => {
  const table: [number, string][] = [
    [0x00000000, '00'],
    [0x00000040, '40'],
    [0x0000007f, '7f'],
    [0x00000080, '81 00'],
    [0x00002000, 'c0 00'],
    [0x00003fff, 'ff 7f'],
    [0x00004000, '81 80 00'],
    [0x00100000, 'c0 80 00'],
    [0x001fffff, 'ff ff 7f'],
    [0x00200000, '81 80 80 00'],
    [0x08000000, 'c0 80 80 00'],
    [0x0fffffff, 'ff ff ff 7f'],
  ];
  for (const [value, bytes] of table)
    expect(
      variableLength(value)
        .map((b) => b.toString(16).padStart(2, '0'))
        .join(' '),
    ).toBe(bytes);
  expect(() => variableLength(0x10000000)).toThrow(RangeError);
});

test('set-tempo stores microseconds a quarter: 120 bpm is 07 A1 20', () => {
  expect(tempo(0, 500000).bytes).toEqual([0xff, 0x51, 3, 0x07, 0xa1, 0x20]);
  expect(tempo(0, Math.round(6e7 / 90)).bytes.slice(3)).toEqual([0x0a, 0x2c, 0x2b]);
  expect(tempo(0, Math.round(6e7 / 93.7)).bytes.slice(3)).toEqual([0x09, 0xc5, 0x56]);
  expect(tempo(0, Math.round(6e7 / 174.5)).bytes.slice(3)).toEqual([0x05, 0x3f, 0x20]);
});

/** Free playing: the tempo wanders between 50 and 180, now and then the players wait. */
function freeBeats(seconds: number, seed: number, first = 0.73, beatsPerBar = 4): Beat[] {
  const random = makeRandom(seed);
  const beats: Beat[] = [];
  let period = 0.6;
  for (let time = first, i = 0; time < seconds; i++) {
    beats.push({ time, confidence: 1, count: (i % beatsPerBar) + 1, by: 'heard' });
    period = Math.min(Math.max(period * (1 + (random() - 0.5) * 0.1), 0.33), 1.2);
    time += random() < 0.01 ? period * 3 : period;
  }
  return beats;
}

/** When each tick sounds, by the file's own tempo events, in double precision. */
function clockOf(midi: MidiData): (tick: number) => number {
  const changes: { tick: number; time: number; quarter: number }[] = [
    { tick: 0, time: 0, quarter: 500000 },
  ];
  let tick = 0;
  for (const event of midi.tracks[0]) {
    tick += event.deltaTime;
    if (event.type !== 'setTempo') continue;
    const last = changes[changes.length - 1];
    const time = last.time + ((tick - last.tick) * last.quarter) / ticksPerQuarter / 1e6;
    changes.push({ tick, time, quarter: event.microsecondsPerBeat });
  }
  return (at) => {
    const last = changes.findLast((change) => change.tick <= at) ?? changes[0];
    return last.time + ((at - last.tick) * last.quarter) / ticksPerQuarter / 1e6;
  };
}

function noteTicks(midi: MidiData): number[] {
  let tick = 0;
  return midi.tracks[1].flatMap((event) => {
    tick += event.deltaTime;
    return event.type === 'noteOn' ? [tick] : [];
  });
}

function map(beats: readonly Beat[], seconds: number, phrases: readonly Phrase[] = []): MidiData {
  return parseMidi(writeTempoMap({ name: 'take', beats, phrases, seconds }));
}

describe('tempo map', () => {
  test.each([1, 2, 3])(
    'over 10 minutes of free time no beat is further than 1 ms (run %i)',
    (seed) => {
      const beats = freeBeats(600, seed);
      const midi = map(beats, 600);
      expect(midi.header).toMatchObject({ format: 1, ticksPerBeat: ticksPerQuarter });
      const clock = clockOf(midi);
      const ticks = noteTicks(midi);
      expect(ticks.length).toBe(beats.length);
      const errors = beats.map((beat, i) => Math.abs(clock(ticks[i]) - beat.time));
      // The goal is 1 ms; rounding the running time leaves half a microsecond.
      expect(Math.max(...errors)).toBeLessThan(1.1e-6);
    },
  );

  test('beats stand on quarters of the grid, bars on bar lines', () => {
    const beats = freeBeats(60, 4, 0.31, 3);
    const midi = map(beats, 60);
    const ticks = noteTicks(midi);
    for (let i = 1; i < ticks.length; i++) expect(ticks[i] - ticks[i - 1]).toBe(ticksPerQuarter);
    let tick = 0;
    const signatures = midi.tracks[0].flatMap((event) => {
      tick += event.deltaTime;
      return event.type === 'timeSignature'
        ? [{ tick, beats: event.numerator, unit: event.denominator }]
        : [];
    });
    expect(signatures.length).toBe(2);
    expect(signatures[0]).toMatchObject({ tick: 0, unit: 16 });
    expect(signatures[1]).toMatchObject({ tick: ticks[0], beats: 3, unit: 4 });
    // The bar before the first beat is exactly as long as what sounds there.
    expect(signatures[0].beats * (ticksPerQuarter / 4)).toBe(ticks[0]);
  });

  test('a take that begins on its first beat has no bar before it', () => {
    expect(noteTicks(map(freeBeats(20, 5, 0), 20))[0]).toBe(0);
  });

  test('bars of changing length get their own signatures', () => {
    const counts = [1, 2, 3, 4, 1, 2, 3, 1, 2, 3, 4, 5];
    const beats = counts.map(
      (count, i): Beat => ({ time: i * 0.5, confidence: 1, count, by: 'heard' }),
    );
    const numbers = map(beats, 6).tracks[0].flatMap((event) =>
      event.type === 'timeSignature' ? [event.numerator] : [],
    );
    expect(numbers).toEqual([4, 3, 5]);
  });

  test('a silence longer than a quarter can be is filled with beats, and time goes on exactly', () => {
    const times = [0.5, 1, 1.5, 61.7, 62.2];
    const beats = times.map(
      (time, i): Beat => ({ time, confidence: 1, count: (i % 4) + 1, by: 'heard' }),
    );
    const midi = map(beats, 70);
    const clock = clockOf(midi);
    noteTicks(midi).forEach((tick, i) => {
      expect(Math.abs(clock(tick) - times[i])).toBeLessThan(2e-4);
    });
  });

  test('a first beat late or very early makes a bar that the format can hold', () => {
    for (const first of [0.0001, 0.004, 0.05, 8.3, 59, 400]) {
      const beats = freeBeats(first + 10, 6, first);
      const midi = map(beats, first + 10);
      const clock = clockOf(midi);
      expect(Math.abs(clock(noteTicks(midi)[0]) - first)).toBeLessThan(2e-4);
    }
  });

  test('phrases are markers at their time, and the file lasts as long as the take', () => {
    const phrases = [
      { start: 0.2, end: 4, energy: -20 },
      { start: 5.1234, end: 9, energy: -20 },
    ];
    const midi = map(freeBeats(10, 7), 12, phrases);
    const clock = clockOf(midi);
    let tick = 0;
    const markers: [string, number][] = [];
    for (const event of midi.tracks[0]) {
      tick += event.deltaTime;
      if (event.type === 'marker') markers.push([event.text, clock(tick)]);
    }
    expect(markers.map(([text]) => text)).toEqual(['Phrase 1', 'Phrase 2']);
    markers.forEach(([, time], i) => {
      expect(Math.abs(time - phrases[i].start)).toBeLessThan(0.001);
    });
    expect(clock(tick)).toBeCloseTo(12, 2);
  });

  test('without beats it is 120 throughout', () => {
    const midi = map([], 10);
    const clock = clockOf(midi);
    expect(clock(ticksPerQuarter)).toBe(0.5);
    const end = midi.tracks[0].reduce((sum, event) => sum + event.deltaTime, 0);
    expect(clock(end)).toBeCloseTo(10, 3);
  });
});
