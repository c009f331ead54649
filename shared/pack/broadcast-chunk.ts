import type { LoudnessInFull } from '../hear/loudness/loudness.ts';
import type { Samples } from '../math/units.ts';
import type { WavChunk } from '../take/wav-write.ts';
import { ByteWriter } from './byte-writer.ts';

/** What a broadcast extension says about a file. */
export interface Broadcast {
  readonly description: string;
  readonly originator: string;
  readonly reference: string;
  /** ISO 8601 moment of its making. */
  readonly date: string;
  /** Position of the first sample on the take's timeline, in samples. */
  readonly timeReference: Samples;
  /** Left out where it was not measured. */
  readonly loudness?: LoudnessInFull;
  /** How the sound came to be, a line for each step. */
  readonly history: readonly string[];
}

/** Hundredths in 16 bits; what is silent or out of reach is "not measured". */
function hundredths(value = Number.NaN): number {
  const rounded = Math.round(value * 100);
  return Math.abs(rounded) <= 9999 ? rounded : 0x7fff;
}

/**
 * `bext`, version 2 (EBU Tech 3285 v2.0, 2011): 602 bytes and the coding history. Text is ASCII. Loudness
 * fields hold hundredths; the value for "not measured", 0x7FFF, stands where a sound is silent or was not measured.
 */
export function broadcastChunk(b: Broadcast): WavChunk {
  const [date, time] = [b.date.slice(0, 10), b.date.slice(11, 19)];
  const data = new ByteWriter()
    .fixed(b.description, 256)
    .fixed(b.originator, 32)
    .fixed(b.reference, 32)
    .fixed(date, 10)
    .fixed(time, 8)
    .u32(b.timeReference % 2 ** 32, Math.floor(b.timeReference / 2 ** 32))
    .u16(2)
    .zeros(64)
    .i16(hundredths(b.loudness?.integrated))
    .i16(hundredths(b.loudness?.range))
    .i16(hundredths(b.loudness?.truePeak))
    .i16(hundredths(b.loudness?.maxMomentary))
    .i16(hundredths(b.loudness?.maxShortTerm))
    .zeros(180)
    .ascii(b.history.map((line) => `${line}\r\n`).join(''));
  return { id: 'bext', data: data.done() };
}
