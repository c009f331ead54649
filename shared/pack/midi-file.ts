import { asciiOf } from './byte-writer.ts';

/*
 * Standard MIDI File 1.0 (MIDI Manufacturers Association RP-001): chunks of big-endian fields, events
 * after a delta time of variable length.
 */

/** Where in a file an event stands, in ticks from the start, and its bytes without the delta time. */
export interface MidiEvent {
  readonly tick: number;
  readonly bytes: readonly number[];
}

/** Fine enough that half a tick is 0.26 ms at 60 bpm; a multiple of 3, 5 and 64, so triplets are whole. */
export const ticksPerQuarter = 1920;

/** Seven bits a byte, the highest first, bit 7 set on all but the last. */
export function variableLength(value: number): number[] {
  if (!(Number.isInteger(value) && value >= 0 && value <= 0x0fffffff))
    throw new RangeError(`${value} is no variable-length quantity (0 to 0x0FFFFFFF).`);
  const bytes = [value & 0x7f];
  for (let rest = value >>> 7; rest > 0; rest >>>= 7) bytes.unshift(0x80 | (rest & 0x7f));
  return bytes;
}

function meta(tick: number, type: number, data: readonly number[]): MidiEvent {
  return { tick, bytes: [0xff, type, ...variableLength(data.length), ...data] };
}

/** Microseconds a quarter, 1 to 16777215. */
export function tempo(tick: number, microseconds: number): MidiEvent {
  if (!(Number.isInteger(microseconds) && microseconds >= 1 && microseconds <= 0xffffff))
    throw new RangeError(`${microseconds} us a quarter can't be stored (1 to 16777215).`);
  return meta(tick, 0x51, [microseconds >> 16, (microseconds >> 8) & 0xff, microseconds & 0xff]);
}

/** @param unit a power of two, up to 64 */
export function timeSignature(tick: number, beats: number, unit: number): MidiEvent {
  return meta(tick, 0x58, [beats, Math.log2(unit), 24, 8]);
}

export function trackName(name: string): MidiEvent {
  return meta(0, 0x03, [...asciiOf(name)]);
}

export function marker(tick: number, text: string): MidiEvent {
  return meta(tick, 0x06, [...asciiOf(text)]);
}

/** A note: on at `tick`, off `ticks` later. Channels count from 0; drums are 9. */
export function note(
  tick: number,
  ticks: number,
  channel: number,
  key: number,
  velocity: number,
): MidiEvent[] {
  return [
    { tick, bytes: [0x90 | channel, key, velocity] },
    { tick: tick + ticks, bytes: [0x80 | channel, key, 64] },
  ];
}

/** Whether an event ends a note: at one tick these come first, so that a repeated note is not cut. */
function endsNote(event: MidiEvent): boolean {
  return (event.bytes[0] & 0xf0) === 0x80;
}

function trackChunk(events: readonly MidiEvent[], end: number): number[] {
  const sorted = events
    .map((event, i) => ({ event, i }))
    .sort(
      (a, b) =>
        a.event.tick - b.event.tick ||
        Number(endsNote(b.event)) - Number(endsNote(a.event)) ||
        a.i - b.i,
    )
    .map(({ event }) => event);
  const body: number[] = [];
  let now = 0;
  for (const { tick, bytes } of [
    ...sorted,
    meta(Math.max(end, sorted.at(-1)?.tick ?? 0), 0x2f, []),
  ]) {
    body.push(...variableLength(tick - now), ...bytes);
    now = tick;
  }
  return [0x4d, 0x54, 0x72, 0x6b, ...u32(body.length), ...body];
}

function u32(value: number): number[] {
  return [value >>> 24, (value >>> 16) & 0xff, (value >>> 8) & 0xff, value & 0xff];
}

/**
 * A file of type 1. The first track holds tempo, metre and markers; every track lasts till `end`.
 *
 * @param tracks events in any order; ticks are whole and not negative
 */
export function writeMidiFile(tracks: readonly (readonly MidiEvent[])[], end: number): Uint8Array {
  const header = [
    ...[0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 1],
    ...[tracks.length >> 8, tracks.length & 0xff],
    ...[ticksPerQuarter >> 8, ticksPerQuarter & 0xff],
  ];
  const chunks = tracks.map((events) => trackChunk(events, end));
  const bytes = new Uint8Array(header.length + chunks.reduce((sum, c) => sum + c.length, 0));
  bytes.set(header);
  let at = header.length;
  for (const chunk of chunks) {
    bytes.set(chunk, at);
    at += chunk.length;
  }
  return bytes;
}
