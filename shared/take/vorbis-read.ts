import { InputError } from '../math/input-error.ts';
import type { LossyFile } from './lossy-file.ts';
import { oggCutOff } from './ogg-end.ts';
import { oggPackets } from './ogg-packets.ts';

/** "\x01vorbis", the head of the identification packet (Vorbis I specification, 4.2.1). */
const signature = Uint8Array.of(1, ...Array.from('vorbis', (letter) => letter.charCodeAt(0)));

/**
 * What the decoder of `ogv` 1.9.0 (MIT; libvorbis and libogg in it, BSD) calls its functions: the names are of that
 * very build, which package.json pins.
 */
interface Decoder {
  readonly f: WebAssembly.Memory;
  /** Once before all. */
  readonly g: () => void;
  readonly h: () => void;
  readonly i: (at: number, length: number) => number;
  readonly j: (at: number, length: number) => number;
  readonly l: (length: number) => number;
}

/**
 * Reads an Ogg Vorbis file, to the sample: what the last page says is too much at the end is cut off.
 * Throws InputError for what is damaged or holds no Vorbis.
 *
 * @param decoder the compiled decoder
 */
export function readVorbis(
  bytes: Uint8Array,
  name: string,
  decoder: WebAssembly.Module,
): LossyFile {
  const blocks: Float32Array[][] = [];
  let format = { channels: 0, rate: 0 };
  const memory = () => exports.f.buffer;
  const imports = {
    // Asks for more memory: to `wanted` bytes, in pages of 64 KiB.
    a: (wanted: number) => {
      const pages = Math.ceil(((wanted >>> 0) - memory().byteLength) / 65536);
      try {
        if (pages > 0) exports.f.grow(pages);
        return 1;
      } catch {
        return 0;
      }
    },
    b: (to: number, from: number, length: number) =>
      new Uint8Array(memory()).copyWithin(to, from, from + length),
    c: () => {
      throw new Error('The decoder gave up.');
    },
    d: (at: number, channels: number, count: number) => {
      // The first packet of sound gives none: it is half of what the next one overlaps.
      if (at === 0 || count === 0) return;
      const places = new Uint32Array(memory(), at, channels);
      blocks.push(Array.from(places, (place) => new Float32Array(memory(), place, count).slice()));
    },
    e: (channels: number, rate: number) => {
      format = { channels, rate };
    },
  };
  const exports = new WebAssembly.Instance(decoder, { a: imports }).exports as unknown as Decoder;
  const damaged = () =>
    new InputError(`${name} is damaged or no Ogg Vorbis file; export it as WAV.`);
  let end: number | null = null;
  try {
    exports.g();
    exports.h();
    let room = 0;
    let place = 0;
    let headers = 0;
    for (const packet of oggPackets(bytes, signature, name)) {
      if (packet.bytes.length > room) {
        room = packet.bytes.length;
        place = exports.l(room);
      }
      new Uint8Array(memory(), place, packet.bytes.length).set(packet.bytes);
      // Identification, comment and setup come before the sound (4.2).
      if (headers < 3) {
        headers += 1;
        exports.i(place, packet.bytes.length);
      } else {
        exports.j(place, packet.bytes.length);
        end = packet.position ?? end;
      }
    }
  } catch (error) {
    throw error instanceof InputError ? error : damaged();
  }
  const { channels, rate } = format;
  const known = channels >= 1 && channels <= 8 && rate >= 8000 && rate <= 192_000;
  const decoded = blocks.reduce((sum, [first]) => sum + (first?.length ?? 0), 0);
  if (!known || decoded === 0) throw damaged();
  const length = Math.min(decoded, end ?? decoded);
  const out = Array.from({ length: channels }, (_, c) => {
    const channel = new Float32Array(length);
    let at = 0;
    for (const block of blocks) {
      channel.set(block[c].subarray(0, length - at), at);
      at = Math.min(length, at + block[c].length);
    }
    return channel;
  });
  const cutOff = oggCutOff(bytes);
  return { audio: { sampleRate: rate, channels: out }, bits: 24, float: false, cutOff };
}
