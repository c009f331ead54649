import type { Beats, Bpm, Seconds, Semitones, Share } from '../shared/math/units.ts';
import type { Player } from './names.ts';

/** What one player has in a phrase: a pickup, whole bars, and a level at each bar line. */
export interface Part {
  readonly pickup?: string;
  readonly bars: readonly string[];
  readonly levels: readonly Share[];
}

/** One phrase: its notes and how the players take their time over it. */
export interface PhraseScore {
  readonly bars: number;
  /** Beats before the first bar line at which the phrase begins. */
  readonly pickup: Beats;
  /** Silence that the players leave before it. */
  readonly breath: Seconds;
  /** Tempo at the top of the phrase's arch. */
  readonly bpm: Bpm;
  /** How far the tempo falls off towards both ends of the arch. */
  readonly arch: Share;
  /** The slowing into the cadence: over how many beats, and to which share of the tempo. */
  readonly slowing: { readonly beats: Beats; readonly to: Share };
  /** Fermatas: the beat at `at` is held longer by `extra` beats. */
  readonly holds?: readonly { readonly at: Beats; readonly extra: Beats }[];
  /** The phrase whose material returns here and how far up. */
  readonly like?: { readonly phrase: number; readonly semitones: Semitones };
  /** All notes as written, moved by this much. */
  readonly up?: Semitones;
  readonly parts: Partial<Record<Player, Part>>;
}

export const beatsPerBar = 4;

const opening = {
  pickup: 'D4 E4',
  bars: [
    'D2+F4! . A3 . E3 F3, A4 G4',
    'Bb2+F4 . D3 . A3 D4, E4 F4',
    'G2+D4! . Bb3 . F3 A3, Bb3 C4',
    'A2+D4 . G3 . C#4 . - .',
  ],
};

const answer = ['D2+A3 . F3 . D4 A3, E3 .', 'Bb2 . A3 . D4 A3, D3 .', 'E2+C4 . D4 . C4 G3, C4 .'];

const answerTune = ['A4! . . ~G4 . ~F4 E4 ~G4', 'F4 . . . ~D4 . - C4', 'G4! . ~F4 ~E4 . . D4 ~C4'];

/** "Slack Water", written for this demo: a tune in D minor whose opening comes back in E minor. */
export const score: readonly PhraseScore[] = [
  {
    bars: 4,
    pickup: 1,
    breath: 0,
    bpm: 88,
    arch: 0.14,
    slowing: { beats: 4, to: 0.62 },
    parts: { guitar: { ...opening, levels: [0.5, 0.62, 0.66, 0.58, 0.38] } },
  },
  {
    bars: 4,
    pickup: 0.5,
    breath: 0.55,
    bpm: 90,
    arch: 0.12,
    slowing: { beats: 3, to: 0.68 },
    parts: {
      guitar: {
        bars: [...answer, 'A2+C4 . G3 . D2+F3+A3 . . -'],
        levels: [0.4, 0.5, 0.5, 0.54, 0.32],
      },
      clarinet: {
        pickup: 'A3',
        bars: [...answerTune, 'E4 . ~C4 . D4 . - .'],
        levels: [0.3, 0.5, 0.45, 0.6, 0.25],
      },
      drum: {
        bars: ['. . . . . . . .', '. . . . . . d .', '. . . . t . . t', '. . d . d . t .'],
        levels: [0.2, 0.2, 0.22, 0.3, 0.22],
      },
    },
  },
  {
    bars: 4,
    pickup: 1,
    breath: 0.35,
    bpm: 98,
    arch: 0.1,
    slowing: { beats: 2, to: 0.85 },
    parts: {
      guitar: {
        pickup: 'C3 E3,',
        bars: [
          'F2+C4! C3 G3 A3 C4 A3, G3 A3',
          'E2+C4 C3 G3, D4 C4 G3, E4 D4',
          'G2+Bb3! D3 F3 A3, Bb3 D4 F3, D3',
          'A2+C#4 G3 Bb3, E4 G4 E4 C#4, Bb3',
        ],
        levels: [0.5, 0.58, 0.62, 0.66, 0.7],
      },
      clarinet: {
        pickup: '- A4',
        bars: [
          'C5! . . ~A4 . . G4 ~A4',
          'G4 . . . ~E4 . C4 ~D4',
          'F4! . . ~G4 A4 . ~Bb4 .',
          'A4 . . . . . - .',
        ],
        levels: [0.45, 0.6, 0.5, 0.65, 0.8],
      },
      drum: {
        bars: [
          'D . . . t . . t . t T . . . t .',
          'D . . t t . . t . t T . t . . t',
          'D . . t t . . t d . T . . t t .',
          'D . t . T . t t d . T . t t S .',
        ],
        levels: [0.35, 0.42, 0.5, 0.55, 0.75],
      },
    },
  },
  {
    bars: 4,
    pickup: 0.5,
    breath: 0.06,
    bpm: 107,
    arch: 0.08,
    slowing: { beats: 5, to: 0.58 },
    parts: {
      guitar: {
        bars: [
          'Bb2+F3+A3+D4! . D4 F4 A4 F4 D4, A3',
          'A2+F3+C4+F4! . C4 F4 A4 F4 C4, A3',
          'G2+Bb3+D4+A4! . D4, Bb3 Bb3+D4+F4 . D4 Bb3',
          'A2+G3+C#4+F4! . G3, E4 G3+C#4+E4 . A3, -',
        ],
        levels: [0.68, 0.72, 0.74, 0.76, 0.58],
      },
      clarinet: {
        pickup: 'A4',
        bars: [
          'D5! . . ~C5 Bb4 . ~A4 .',
          'C5! . . ~A4 F4 . ~G4 ~A4',
          'Bb4 . ~D5 . F5! . ~E5 ~D5',
          'E5! . . . ~C#5 . . -',
        ],
        levels: [0.64, 0.69, 0.73, 0.78, 0.42],
      },
      drum: {
        bars: [
          'D! . t . T . t . d . t . T . t t',
          'D! . t . T . t t . . t . T t t S',
          'D! . t . T . t . d . t . T t T t',
          'D! . . . T . t . S . . . t . t .',
        ],
        levels: [0.68, 0.73, 0.77, 0.78, 0.45],
      },
    },
  },
  {
    bars: 3,
    pickup: 0,
    breath: 1.1,
    bpm: 74,
    arch: 0.06,
    slowing: { beats: 4, to: 0.75 },
    holds: [
      { at: 8, extra: 0.6 },
      { at: 10, extra: 1.3 },
    ],
    parts: {
      guitar: {
        bars: [
          'D2+A3+F4 . . . D3, . E4 .',
          'Bb2+A3+E4 . . . D4, . . .',
          'B2+A3+D#4 . . . F#4 . - .',
        ],
        levels: [0.34, 0.3, 0.24, 0.34],
      },
      clarinet: {
        bars: ['- . . . . . . .', '- . D4 . . . ~C4 .', 'B3 . . . . . - .'],
        levels: [0.26, 0.22, 0.34, 0.14],
      },
      drum: {
        bars: [
          '. . . . . . . . . . . . t . . .',
          '. . . . . . . . d . . . . . . .',
          't . . t . . t t t . . . . . . .',
        ],
        levels: [0.16, 0.16, 0.12, 0.2],
      },
    },
  },
  {
    bars: 4,
    pickup: 1,
    breath: 0.7,
    bpm: 91,
    arch: 0.14,
    slowing: { beats: 4, to: 0.66 },
    like: { phrase: 0, semitones: 2 },
    up: 2,
    parts: {
      guitar: { ...opening, levels: [0.52, 0.64, 0.68, 0.58, 0.4] },
      clarinet: {
        bars: ['- . . . D4, . . .', '. . . . - . . .', '- . Bb3 . . . ~A3 .', '. . . . - . . .'],
        levels: [0.3, 0.34, 0.3, 0.36, 0.26],
      },
      drum: {
        bars: [
          'D . . . . . t . t . T . . . t .',
          'D . . t . . . . d . . t T . . .',
          'D . . . t . . . t . T . . t t .',
          'd . . . . . . . T . . . . . . .',
        ],
        levels: [0.34, 0.4, 0.42, 0.42, 0.3],
      },
    },
  },
  {
    bars: 5,
    pickup: 0.5,
    breath: 0.5,
    bpm: 88,
    arch: 0.1,
    slowing: { beats: 7, to: 0.42 },
    holds: [{ at: 15, extra: 0.35 }],
    like: { phrase: 1, semitones: 2 },
    up: 2,
    parts: {
      guitar: {
        bars: [...answer, 'G2+Bb3 . E3 . A2+G3+C#4 . E4 .', 'D2+A2+F3+A3+E4 . . . . - . .'],
        levels: [0.42, 0.52, 0.55, 0.5, 0.26, 0.2],
      },
      clarinet: {
        pickup: 'A3',
        bars: [...answerTune, 'E4 . ~D4 . ~C#4 . . .', 'D4 . . . . - . .'],
        levels: [0.4, 0.55, 0.5, 0.6, 0.25, 0.06],
      },
      drum: {
        bars: [
          'D . . . . . t . d . t . T . . t',
          'D . . t . . . . d . t . T . . .',
          'D . . . t . . . t . T . . t . .',
          'd . . . . . . . t . . . . . . .',
          'd . . . . . . .',
        ],
        levels: [0.36, 0.42, 0.42, 0.34, 0.2, 0.16],
      },
    },
  },
];
