import minimp3 from 'minimp3-wasm/dist/decoder.opt.wasm?url&inline';
import vorbis from 'ogv/dist/ogv-decoder-audio-vorbis-wasm.wasm?url&inline';
import type { ByteSource } from '../../shared/take/byte-source.ts';
import { isMp3, readMp3 } from '../../shared/take/mp3-read.ts';
import { isOgg } from '../../shared/take/ogg-packets.ts';
import { readRecordingFrom } from '../../shared/take/recording-read.ts';
import { readVorbis } from '../../shared/take/vorbis-read.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';

const compiled = new Map<string, WebAssembly.Module>();

/** A decoder that lies in the command as text (a data URL), compiled when it is first needed. */
function decoder(url: string): WebAssembly.Module {
  const known = compiled.get(url);
  if (known) return known;
  const bytes = Buffer.from(url.slice(url.indexOf(',') + 1), 'base64');
  const fresh = new WebAssembly.Module(bytes);
  compiled.set(url, fresh);
  return fresh;
}

/** Reads a recording in any form that the command knows: WAV, FLAC, MP3 and Ogg Vorbis. Throws InputError. */
export function readAnyRecording(source: ByteSource, name: string): WavFile {
  const head = source.read(0, Math.min(4, source.length));
  if (isOgg(head)) return readVorbis(source.read(0, source.length), name, decoder(vorbis));
  if (isMp3(head)) return readMp3(source.read(0, source.length), name, decoder(minimp3));
  return readRecordingFrom(source, name);
}
