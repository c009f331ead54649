/** An event at a millisecond from the start. */
export interface MidiEvent {
  readonly at: number;
  readonly bytes: readonly number[];
}

function variableLength(value: number): number[] {
  const bytes = [value & 127];
  for (let rest = value >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
}

/**
 * A Standard MIDI File (RP-001) of one track whose ticks are milliseconds (1000 to the quarter note of
 * one second): written here and not by the engine, so that the tests' sound depends on nothing it tests.
 */
export function midiFile(events: readonly MidiEvent[], milliseconds: number): Uint8Array {
  const rank = (event: MidiEvent): number => ((event.bytes[0] ?? 0) >> 4 === 9 ? 1 : 0);
  const sorted = [...events].sort((a, b) => a.at - b.at || rank(a) - rank(b));
  const track = [0, 0xff, 0x51, 3, 0x0f, 0x42, 0x40];
  let last = 0;
  for (const event of sorted) {
    track.push(...variableLength(event.at - last), ...event.bytes);
    last = event.at;
  }
  track.push(...variableLength(Math.max(0, milliseconds - last) + 500), 0xff, 0x2f, 0);
  const head = [0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0x03, 0xe8, 0x4d, 0x54, 0x72, 0x6b];
  const length = [24, 16, 8, 0].map((shift) => (track.length >>> shift) & 255);
  return Uint8Array.from([...head, ...length, ...track]);
}
