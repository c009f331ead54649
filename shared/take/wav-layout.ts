import { InputError } from '../math/input-error.ts';
import type { Hertz, Samples } from '../math/units.ts';
import { type ByteSource, sourceOf } from './byte-source.ts';

/** How the samples of a WAV file are stored, and where. */
export interface WavLayout {
  readonly sampleRate: Hertz;
  readonly channels: number;
  /** Bits of the container of one sample. */
  readonly bits: 8 | 16 | 24 | 32 | 64;
  readonly float: boolean;
  /** Byte position of the first sample, and how many whole frames follow it. */
  readonly start: number;
  readonly frames: Samples;
  /** Every other chunk of the file: its four letters, and where its content lies. */
  readonly chunks: readonly {
    readonly id: string;
    readonly start: number;
    readonly size: number;
  }[];
}

const pcm = 1;
const ieeeFloat = 3;
const extensible = 0xfffe;

/** What the first bytes of other kinds of file say, so that the message can name them. */
const otherKinds: readonly (readonly [string, string])[] = [
  ['fLaC', 'a FLAC file'],
  ['OggS', 'an Ogg file'],
  ['ID3', 'an MP3 file'],
  ['\xff\xfb', 'an MP3 file'],
  ['\xff\xf3', 'an MP3 file'],
  ['FORM', 'an AIFF file'],
  ['RIFX', 'a big-endian RIFX file'],
  ['PK', 'a zip archive'],
];

function letters(bytes: Uint8Array, at: number, count: number): string {
  let text = '';
  for (let i = at; i < Math.min(at + count, bytes.length); i++)
    text += String.fromCharCode(bytes[i]);
  return text;
}

/**
 * Writers that can't seek back (a pipe, a recorder that lost power) leave a size that is no size: 0, or
 * the largest that fits 31 or 32 bits, some of them less a page. The sound then goes on to the end of
 * the file.
 */
function isPlaceholder(size: number): boolean {
  return size === 0 || size >= 0xffff_f000 || (size >= 0x7fff_f000 && size <= 0x7fff_ffff);
}

/** Most bytes that a chunk's header and what is read of its content take. */
const most = 64;

/** Bytes from a position on, `most` of them where there are so many; the file is read in larger pieces. */
function lookInto(source: ByteSource): (at: number) => Uint8Array {
  let first = 0;
  let piece: Uint8Array = new Uint8Array(0);
  return (at) => {
    if (at < first || at + Math.min(most, source.length - at) > first + piece.length) {
      first = at;
      piece = source.read(at, Math.min(1 << 16, source.length - at));
    }
    return piece.subarray(at - first, at - first + most);
  };
}

function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

interface Format {
  readonly tag: number;
  readonly channels: number;
  readonly sampleRate: number;
  readonly align: number;
}

/**
 * Reads the chunks of a WAV file (RIFF/WAVE, Multimedia Programming Interface and Data Specifications
 * 1.0, 1991; WAVE_FORMAT_EXTENSIBLE; RF64 and BW64 by EBU Tech 3306 and ITU-R BS.2088). Chunks may stand
 * in any order; a missing pad byte after an odd chunk is forgiven.
 *
 * Throws InputError for a file that is no WAV, compressed, cut off, empty or outside 1 to 8 channels
 * and 8 to 192 kHz.
 */
export function readWavLayout(bytes: Uint8Array, name: string): WavLayout {
  return readWavLayoutFrom(sourceOf(bytes), name);
}

/** As `readWavLayout`, from where the file lies. */
export function readWavLayoutFrom(source: ByteSource, name: string): WavLayout {
  const { length } = source;
  const look = lookInto(source);
  const bytes = look(0);
  const riff = letters(bytes, 0, 4);
  if (length === 0) throw new InputError(`${name} is empty; export it again as WAV.`);
  if (!['RIFF', 'RF64', 'BW64'].includes(riff) || letters(bytes, 8, 4) !== 'WAVE') {
    const kind = otherKinds.find(([start]) => letters(bytes, 0, start.length) === start)?.[1];
    throw new InputError(`${name} is ${kind ?? 'not a WAV file'}; convert it to WAV first.`);
  }

  const wide = riff !== 'RIFF';
  const riffSize = bytes.length < 8 ? 0 : viewOf(bytes).getUint32(4, true);
  let wideData: number | null = null;
  let format: Format | null = null;
  let data: { start: number; size: number; cutOff: boolean } | null = null;
  const chunks: { id: string; start: number; size: number }[] = [];

  for (let at = 12; at + 8 <= length; ) {
    const here = look(at);
    const view = viewOf(here);
    const id = letters(here, 0, 4);
    const start = at + 8;
    const left = length - start;
    let size = view.getUint32(4, true);
    if (id === 'data' && !data) {
      let cutOff = false;
      if (wide && size === 0xffff_ffff && wideData !== null) size = wideData;
      else if (isPlaceholder(size) && (size !== 0 || isPlaceholder(riffSize))) size = left;
      if (size > left) cutOff = true;
      data = { start, size, cutOff };
    } else {
      if (id === 'ds64' && wide && size >= 24 && left >= 24)
        wideData = Number(view.getBigUint64(16, true));
      if (id === 'fmt ' && !format) format = readFormat(view, 8, Math.min(size, left), name);
      if (size <= left) chunks.push({ id, start, size });
    }
    at = start + size;
    // The byte that fills up an odd chunk is nought, and no chunk's name begins with it: else it was left out.
    if (size & 1 && at < length && look(at)[0] === 0) at += 1;
  }

  if (!format)
    throw new InputError(
      `${name} has no format chunk; it is cut off or damaged: copy or export it again.`,
    );
  if (!data)
    throw new InputError(
      `${name} holds no sound (no data chunk); it is cut off or damaged: copy or export it again.`,
    );
  const { bits, float } = storage(format, name);
  if (data.cutOff) {
    const seconds = (size: number) => (size / format.align / format.sampleRate).toFixed(2);
    throw new InputError(
      `${name} is cut off: it promises ${seconds(data.size)} s of sound and holds ${seconds(length - data.start)} s; copy or export it again.`,
    );
  }
  const frames = Math.floor(data.size / format.align);
  if (frames === 0)
    throw new InputError(`${name} holds no sound: its length is zero; export it again.`);
  return {
    sampleRate: format.sampleRate,
    channels: format.channels,
    bits,
    float,
    start: data.start,
    frames,
    chunks,
  };
}

function readFormat(view: DataView, start: number, size: number, name: string): Format {
  if (size < 16)
    throw new InputError(
      `${name} has a format chunk of ${size} bytes, 16 are the least; it is cut off or damaged: copy or export it again.`,
    );
  let tag = view.getUint16(start, true);
  // The sub-format's GUID begins with the plain tag.
  if (tag === extensible && size >= 26) tag = view.getUint16(start + 24, true);
  return {
    tag,
    channels: view.getUint16(start + 2, true),
    sampleRate: view.getUint32(start + 4, true),
    align: view.getUint16(start + 12, true),
  };
}

function storage(format: Format, name: string): Pick<WavLayout, 'bits' | 'float'> {
  const { tag, channels, sampleRate, align } = format;
  if (tag !== pcm && tag !== ieeeFloat)
    throw new InputError(
      `${name} is a compressed WAV (format 0x${tag.toString(16).padStart(4, '0')}); export it as PCM.`,
    );
  if (channels < 1 || channels > 8)
    throw new InputError(`${name} has ${channels} channels; 1 to 8 can be read.`);
  if (sampleRate < 8000 || sampleRate > 192000)
    throw new InputError(`${name} runs at ${sampleRate} Hz; 8000 to 192000 Hz can be read.`);
  // A sample of fewer bits (12, 20) fills its container from the top, so the container is what counts.
  const bits = (align / channels) * 8;
  const float = tag === ieeeFloat;
  if (float && (bits === 32 || bits === 64)) return { bits, float };
  if (!float && (bits === 8 || bits === 16 || bits === 24 || bits === 32)) return { bits, float };
  throw new InputError(
    `${name} stores ${bits}-bit ${float ? 'float' : 'integer'} samples; export it as 16 or 24-bit or 32-bit float.`,
  );
}
