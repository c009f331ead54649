import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Beat } from '../../../shared/hear/heard.ts';
import type { Peaks } from '../../../shared/take/peaks.ts';
import type { Colours } from '../ink/colours.ts';
import { drawWord } from '../ink/draw-word.ts';
import type { Surface } from '../ink/ink-canvas.tsx';
import { margin, type RowMeasure, xOf } from './page-measure.ts';
import type { Row } from './writing.ts';

/** A beat that the tool doubts is drawn hollow. */
export const doubtBelow = 0.5;

export interface SheetInk {
  readonly rows: readonly Row[];
  readonly slices: readonly NamedSlice[];
  readonly beats: readonly Beat[];
  readonly peaks: Peaks;
  readonly scroll: number;
  readonly measure: RowMeasure;
  readonly selected: ReadonlySet<string>;
  readonly sounding: ReadonlySet<string>;
  readonly beat: number | null;
  readonly colours: Colours;
}

/** Draws the rows in view, and nothing else. */
export function drawSheet(surface: Surface, ink: SheetInk): void {
  const { rows, scroll, measure } = ink;
  const first = Math.max(0, Math.floor(scroll / measure.height));
  const last = Math.min(rows.length, Math.ceil((scroll + surface.height) / measure.height));
  let beat = firstBeat(ink.beats, rows[first]?.from ?? 0);
  for (let i = first; i < last; i++) {
    const row = rows[i] as Row;
    const y = i * measure.height - scroll;
    drawRow(surface, ink, row, y);
    beat = drawBeats(surface.context, ink, row, y, beat);
  }
}

function firstBeat(beats: readonly Beat[], from: number): number {
  const i = beats.findIndex((beat) => beat.time >= from);
  return i < 0 ? beats.length : i;
}

function drawRow({ context, width }: Surface, ink: SheetInk, row: Row, y: number): void {
  const { colours, measure, peaks } = ink;
  const middle = y + (measure.top + measure.bottom) / 2;
  const height = measure.bottom - measure.top;
  const reach = height / 2 - 3;
  const right = width - margin.right;

  if (row.part === 0) {
    context.fillStyle = colours.inkSoft;
    context.font = `${1.0625 * colours.rem}px ${colours.text}`;
    context.textAlign = 'right';
    context.textBaseline = 'middle';
    context.fillText(String(row.line + 1), margin.left - 20, middle, margin.left - 22);
  }

  // What no word holds is still written, in pale ink.
  context.save();
  context.beginPath();
  context.rect(margin.left - 12, y, right - margin.left + 12, measure.height);
  context.clip();
  drawWord(context, peaks, {
    from: row.from,
    until: row.until,
    x: margin.left,
    width: Math.min(right - margin.left, (row.until - row.from) * row.scale),
    middle,
    reach,
    colour: colours.edge,
  });

  for (let k = row.first; k < row.first + row.count; k++) {
    const slice = ink.slices[k] as NamedSlice;
    const from = Math.max(slice.start, row.from);
    const until = Math.min(slice.end, row.until);
    if (until <= from) continue;
    const x = xOf(row, from);
    const w = Math.max(2, xOf(row, until) - x - 2);
    const sounds = ink.sounding.has(slice.id);
    const chosen = ink.selected.has(slice.id);
    // Paper under the block first: the pale ink must not show through.
    context.fillStyle = sounds ? colours.accentWash : chosen ? colours.leafPressed : colours.leaf;
    context.beginPath();
    context.roundRect(x, y + measure.top, w, height, 2);
    context.fill();
    drawWord(context, peaks, {
      from,
      until: from + w / row.scale,
      x,
      width: w,
      middle,
      reach,
      colour: sounds ? colours.accent : colours.ink,
    });
    const landing = xOf(row, slice.landing);
    context.fillStyle = sounds ? colours.accent : colours.ink;
    context.fillRect(
      Math.round(landing) - 0.75,
      y + measure.bottom + 3,
      1.5,
      measure.foot - measure.bottom - 3,
    );
    if (chosen) {
      context.strokeStyle = colours.ink;
      context.lineWidth = 1.5;
      context.beginPath();
      context.roundRect(x + 0.25, y + measure.top + 0.25, w - 0.5, height - 0.5, 2);
      context.stroke();
      // The lead-in of a chosen word: a hair line where the ear begins to count.
      if (landing - x > 1.5) {
        context.globalAlpha = 0.4;
        context.fillRect(landing - 0.5, y + measure.top, 1, height);
        context.globalAlpha = 1;
      }
    }
  }
  context.restore();
}

function drawBeats(
  context: CanvasRenderingContext2D,
  ink: SheetInk,
  row: Row,
  y: number,
  from: number,
): number {
  const { beats, colours, measure } = ink;
  let i = from;
  while (i > 0 && beats[i - 1].time >= row.from) i--;
  while (i < beats.length && beats[i].time < row.from) i++;
  context.lineWidth = 1.25;
  for (; i < beats.length && beats[i].time < row.until; i++) {
    const beat = beats[i];
    const chosen = ink.beat !== null && Math.abs(ink.beat - beat.time) < 1e-6;
    const radius = beat.count === 1 ? 4 : 2.5;
    context.beginPath();
    context.arc(xOf(row, beat.time), y + measure.beats, radius, 0, Math.PI * 2);
    context.fillStyle = chosen ? colours.accent : colours.ink;
    context.strokeStyle = context.fillStyle;
    if (beat.confidence < doubtBelow && beat.by === 'heard') context.stroke();
    else context.fill();
    // What a hand has set stands on a short stroke.
    if (beat.by !== 'heard')
      context.fillRect(
        xOf(row, beat.time) - 0.5,
        y + measure.beats,
        1,
        measure.top - measure.beats,
      );
  }
  return i;
}
