/** How a sound begins, for our own synthesis; the General MIDI program for the sampled one. */
export type Attack = 'struck' | 'plucked' | 'bowed' | 'blown' | 'brushed';

export interface Instrument {
  readonly name: string;
  /** General MIDI program from 0; for drums the kit. */
  readonly program: number;
  readonly attack: Attack;
  readonly drums?: boolean;
}

const list: readonly Instrument[] = [
  { name: 'grand piano', program: 0, attack: 'struck' },
  { name: 'bright piano', program: 1, attack: 'struck' },
  { name: 'electric grand', program: 2, attack: 'struck' },
  { name: 'upright piano', program: 3, attack: 'struck' },
  { name: 'electric piano', program: 4, attack: 'struck' },
  { name: 'vibraphone', program: 11, attack: 'struck' },
  { name: 'marimba', program: 12, attack: 'struck' },
  { name: 'nylon guitar', program: 24, attack: 'plucked' },
  { name: 'steel guitar', program: 25, attack: 'plucked' },
  { name: 'hollow guitar', program: 26, attack: 'plucked' },
  { name: 'harp', program: 46, attack: 'plucked' },
  { name: 'double bass', program: 32, attack: 'plucked' },
  { name: 'finger bass', program: 33, attack: 'plucked' },
  { name: 'fretless bass', program: 35, attack: 'plucked' },
  { name: 'violin', program: 40, attack: 'bowed' },
  { name: 'viola', program: 41, attack: 'bowed' },
  { name: 'cello', program: 42, attack: 'bowed' },
  { name: 'bowed bass', program: 43, attack: 'bowed' },
  { name: 'trumpet', program: 56, attack: 'blown' },
  { name: 'horn', program: 60, attack: 'blown' },
  { name: 'alto saxophone', program: 65, attack: 'blown' },
  { name: 'oboe', program: 68, attack: 'blown' },
  { name: 'bassoon', program: 70, attack: 'blown' },
  { name: 'clarinet', program: 71, attack: 'blown' },
  { name: 'flute', program: 73, attack: 'blown' },
  { name: 'brushes', program: 40, attack: 'brushed', drums: true },
  { name: 'sticks', program: 32, attack: 'brushed', drums: true },
  { name: 'plain kit', program: 0, attack: 'brushed', drums: true },
];

export type InstrumentName = string;

export function instrument(name: InstrumentName): Instrument {
  const found = list.find((one) => one.name === name);
  if (!found) throw new RangeError(`No test instrument is called "${name}".`);
  return found;
}

/** Who plays which part of a score. */
export interface Band {
  readonly melody: Instrument;
  readonly chords: Instrument;
  readonly bass: Instrument;
  readonly drums: Instrument;
}

export function band(melody: string, chords = melody, bass = melody, drums = 'brushes'): Band {
  return {
    melody: instrument(melody),
    chords: instrument(chords),
    bass: instrument(bass),
    drums: instrument(drums),
  };
}
