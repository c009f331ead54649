import type { Key } from '../hear/heard.ts';
import type { Bpm } from '../math/units.ts';
import type { WavChunk } from '../take/wav-write.ts';

/** What an `id3 ` chunk says. */
export interface Id3Texts {
  readonly title: string;
  readonly album: string;
  readonly artist?: string;
  readonly bpm?: Bpm;
  readonly key?: Key;
}

/** A key as TKEY writes it: A to G, then `b` or `#`, then `m` for minor; `o` is off key. At most 3 letters. */
export function id3Key(key: Key): string {
  if (key.mode === 'unclear' || !/^[A-G][b#]?$/.test(key.tonic)) return 'o';
  return key.tonic + (key.mode === 'minor' ? 'm' : '');
}

/**
 * A frame of texts, a zero between them: encoding 0 is Latin 1, for plain ASCII; encoding 1 is UTF-16, each
 * text with a byte order mark of its own.
 */
function textFrame(id: string, ...texts: readonly string[]): number[] {
  const plain = texts.every((text) => /^[ -~]*$/.test(text));
  const zero = plain ? [0] : [0, 0];
  const content = [plain ? 0 : 1];
  texts.forEach((text, i) => {
    if (i > 0) content.push(...zero);
    if (plain) content.push(...Array.from(text, (c) => c.charCodeAt(0)));
    else content.push(0xff, 0xfe, ...utf16(text));
  });
  const size = content.length;
  const letters = Array.from(id, (c) => c.charCodeAt(0));
  return [
    ...letters,
    ...[size >>> 24, (size >>> 16) & 255, (size >>> 8) & 255, size & 255],
    ...[0, 0],
    ...content,
  ];
}

function utf16(text: string): number[] {
  return Array.from({ length: text.length }, (_, i) => text.charCodeAt(i)).flatMap((unit) => [
    unit & 255,
    unit >> 8,
  ]);
}

/** Four bytes of seven bits each: no byte looks like the start of an MP3 frame. */
function syncSafe(size: number): number[] {
  return [(size >> 21) & 127, (size >> 14) & 127, (size >> 7) & 127, size & 127];
}

/**
 * An `id3 ` chunk: an ID3v2.3.0 tag (id3.org, 1999) with title, album, artist, TBPM and TKEY. The
 * standard has whole beats a minute only; the exact tempo stands in a TXXX frame named `tempo`.
 */
export function id3Chunk({ title, album, artist, bpm, key }: Id3Texts): WavChunk {
  const frames = [
    ...textFrame('TIT2', title),
    ...textFrame('TALB', album),
    ...(artist ? textFrame('TPE1', artist) : []),
    ...(bpm === undefined ? [] : textFrame('TBPM', String(Math.round(bpm)))),
    ...(key ? textFrame('TKEY', id3Key(key)) : []),
    ...(bpm === undefined ? [] : textFrame('TXXX', 'tempo', String(bpm))),
  ];
  const data = Uint8Array.from([0x49, 0x44, 0x33, 3, 0, 0, ...syncSafe(frames.length), ...frames]);
  return { id: 'id3 ', data };
}
