import { noteName } from '../../../shared/hear/pitch/note.ts';
import type { PitchMoment, PlayedNote } from '../../../shared/hear/pitch/pitch-track.ts';
import type { Colours } from '../ink/colours.ts';
import type { Surface } from '../ink/ink-canvas.tsx';
import type { TunerLine } from './lines.ts';

/** How far a note may be drawn from the line: farther ones stand at the edge. */
export const reach = 40;
/** Nearer than this nobody minds; the leaf's darker band. */
const near = 5;
/** Room on the left for the phrase's number, in CSS pixels; below for names of notes, by the size of text. */
export const left = 34;
const below = 1.125;

export interface TunerInk {
  readonly line: TunerLine;
  readonly span: number;
  readonly moments: readonly PitchMoment[];
  readonly notes: readonly PlayedNote[];
  /** Semitones by which the reference stands above A4 = 440 Hz. */
  readonly offset: number;
  readonly chosen: PlayedNote | null;
  readonly colours: Colours;
}

/** Where a moment stands on a line of some width. */
export const xOf = (line: TunerLine, span: number, width: number, time: number): number =>
  left + ((time - line.from) / span) * (width - left);

/** One line of the tuner: cents up and down, time to the right, each note a stroke over its own wavering. */
export function drawTunerLine({ context, width, height }: Surface, ink: TunerInk): void {
  const { line, span, colours } = ink;
  const { rem } = colours;
  const middle = (height - below * rem) / 2;
  const y = (cents: number) =>
    middle - (Math.min(reach, Math.max(-reach, cents)) / reach) * (middle - 3);
  const x = (time: number) => xOf(line, span, width, time);
  const end = x(line.until);

  context.fillStyle = colours.leaf;
  context.fillRect(left, y(near), end - left, y(-near) - y(near));
  context.fillStyle = colours.rule;
  for (const cents of [0, 20, -20])
    context.fillRect(left, Math.round(y(cents)), end - left, cents === 0 ? 1 : 0.5);

  context.textBaseline = 'alphabetic';
  context.textAlign = 'left';
  let named = Number.NEGATIVE_INFINITY;
  for (const note of ink.notes) {
    if (note.end < line.from || note.start >= line.until) continue;
    const colour = note === ink.chosen ? colours.accent : colours.ink;
    const far = note === ink.chosen ? colours.accent : colours.edge;
    context.strokeStyle = far;
    context.lineWidth = 1;
    context.beginPath();
    let drawn = false;
    for (const { time, pitch } of ink.moments) {
      if (pitch === null || time < note.start || time > note.end) continue;
      const at = y((pitch - ink.offset - note.note) * 100);
      if (drawn) context.lineTo(x(time), at);
      else context.moveTo(x(time), at);
      drawn = true;
    }
    context.stroke();
    context.fillStyle = colour;
    const from = x(Math.max(note.start, line.from));
    const until = x(Math.min(note.end, line.until));
    context.fillRect(from, y(note.cents) - 1, Math.max(2, until - from), 2);
    const name = noteName(note.note);
    context.font = `${0.6875 * rem}px ${colours.figures}`;
    const wide = context.measureText(name).width;
    if (from < named) continue;
    context.fillStyle = note === ink.chosen ? colours.accent : colours.inkSoft;
    context.fillText(name, from, height - 5);
    named = from + wide + 6;
  }

  context.fillStyle = colours.inkSoft;
  context.font = `${rem}px ${colours.text}`;
  context.textAlign = 'right';
  context.textBaseline = 'middle';
  context.fillText(line.label, left - 12, middle, left - 12);
}
