import type { Hertz, Samples } from '../math/units.ts';
import type { WavChunk } from '../take/wav-write.ts';
import { ByteWriter } from './byte-writer.ts';

/*
 * Chunks beside the sound: Multimedia Programming Interface and Data Specifications 1.0 (IBM and
 * Microsoft, 1991) and New Multimedia Data Types and Data Techniques (Microsoft, 1994).
 */

/** A place in the sound with a name; with a length it is a region. */
export interface CuePoint {
  readonly at: Samples;
  readonly label: string;
  readonly length?: Samples;
}

/** `smpl`: the whole file is one endless forward loop, played as it is at MIDI note `note` (60 is middle C). */
export function samplerChunk(length: Samples, sampleRate: Hertz, note = 60): WavChunk {
  const data = new ByteWriter()
    // Manufacturer, product; the sample's period in nanoseconds, cut off as the text's own example is.
    .u32(0, 0, Math.floor(1e9 / sampleRate))
    // Unity note and its fraction; no SMPTE offset; one loop, no further data.
    .u32(note, 0, 0, 0, 1, 0)
    // Its name, forwards, first and last sample (the last one is played), no fraction, without end.
    .u32(1, 0, 0, Math.max(length - 1, 0), 0, 0);
  return { id: 'smpl', data: data.done() };
}

/** `cue ` and the `LIST adtl` that names its points. Empty where there are none. */
export function cueChunks(points: readonly CuePoint[]): WavChunk[] {
  if (points.length === 0) return [];
  const cue = new ByteWriter().u32(points.length);
  const list = new ByteWriter().ascii('adtl');
  points.forEach(({ at, label, length }, i) => {
    const name = i + 1;
    // In a file with one `data` chunk position and sampleOffset are both sample frames; blockStart is 0.
    cue.u32(name, at).ascii('data').u32(0, 0, at);
    list.chunk('labl', new ByteWriter().u32(name).ascii(label).zeros(1).done());
    if (length !== undefined)
      list.chunk(
        'ltxt',
        // Purpose `rgn `, then country, language, dialect and code page, all not stated.
        new ByteWriter().u32(name, length).ascii('rgn ').zeros(8).done(),
      );
  });
  return [
    { id: 'cue ', data: cue.done() },
    { id: 'LIST', data: list.done() },
  ];
}

/** What `LIST INFO` can say: by the four letters of its field. */
export interface InfoTexts {
  readonly INAM?: string;
  readonly IART?: string;
  readonly IPRD?: string;
  readonly ICMT?: string;
  /** Date, `yyyy-mm-dd`. */
  readonly ICRD?: string;
  readonly ICOP?: string;
  readonly ISFT?: string;
  readonly IKEY?: string;
}

/** `LIST INFO`. The text has no stated character set: ASCII here, the manifest holds every letter. */
export function infoChunk(texts: InfoTexts): WavChunk {
  const list = new ByteWriter().ascii('INFO');
  for (const [id, text] of Object.entries(texts))
    if (text) list.chunk(id, new ByteWriter().ascii(text).zeros(1).done());
  return { id: 'LIST', data: list.done() };
}
