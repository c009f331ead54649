/**
 * Units of every number that crosses a function's edge. A unit is a flavoured number: a plain number
 * may become one (a literal, the result of arithmetic), but one unit never passes for another, so a
 * count of samples cannot be handed over as seconds without the compiler saying so.
 */
type Unit<Name extends string> = number & { readonly __unit?: Name };

/** Time from the start of a file or of a loop, in seconds. */
export type Seconds = Unit<'seconds'>;
/** A count or position of sample frames. */
export type Samples = Unit<'samples'>;
/** A count or position of beats. */
export type Beats = Unit<'beats'>;
/** Beats a minute. */
export type Bpm = Unit<'bpm'>;
/** Cycles (or samples) a second. */
export type Hertz = Unit<'hertz'>;
/** Hundredths of a tempered semitone. */
export type Cents = Unit<'cents'>;
/** Tempered semitones. */
export type Semitones = Unit<'semitones'>;
/** Level on a logarithmic scale. */
export type Decibels = Unit<'decibels'>;
/** A share from 0 to 1. */
export type Share = Unit<'share'>;
/** A share from 0 to 100. */
export type Percent = Unit<'percent'>;
