import type { Seconds } from '../../../shared/math/units.ts';
import { type PeakRow, type Peaks, peaksBetween } from '../../../shared/take/peaks.ts';

/** Where and how a stretch of the take is written. */
export interface WordInk {
  readonly from: Seconds;
  readonly until: Seconds;
  readonly x: number;
  readonly width: number;
  readonly middle: number;
  /** Half the height that the loudest sample of the take reaches. */
  readonly reach: number;
  readonly colour: string;
  readonly backwards?: boolean;
  /** A word by itself is written larger than its energy asks for, so that a soft one can be read. @default false */
  readonly alone?: boolean;
}

/** Soft notes must be seen beside loud ones: the hand presses less than in proportion. */
const press = (amplitude: number): number => Math.abs(amplitude) ** 0.62;

const loudestOf = new WeakMap<Peaks, number>();

/** The highest absolute sample of the take, as the pyramid tells it; 1 for silence. */
function loudest(peaks: Peaks): number {
  const known = loudestOf.get(peaks);
  if (known !== undefined) return known;
  const top = peaks.levels[peaks.levels.length - 1];
  let most = 0;
  if (top)
    for (let i = 0; i < top.max.length; i++)
      most = Math.max(most, Math.abs(top.max[i]), Math.abs(top.min[i]));
  const value = most > 0 ? most : 1;
  loudestOf.set(peaks, value);
  return value;
}

function highest(look: PeakRow): number {
  let most = 0;
  for (let c = 0; c < look.max.length; c++) most = Math.max(most, look.max[c], -look.min[c]);
  return most;
}

const pitch = 2;

/**
 * Writes a stretch of sound: hair strokes reach as far as its peaks, and a body of full ink as far as
 * its energy, so that a loud note is a heavy one.
 */
export function drawWord(context: CanvasRenderingContext2D, peaks: Peaks, ink: WordInk): void {
  const columns = Math.max(1, Math.floor(ink.width / pitch));
  const rate = peaks.sampleRate;
  const look = peaksBetween(peaks, ink.from * rate, ink.until * rate, columns);
  const most = loudest(peaks);
  const scale = 1 / press(ink.alone ? Math.sqrt(most * Math.max(highest(look), most / 50)) : most);
  const step = ink.width / columns;
  const at = (c: number) => (ink.backwards ? columns - 1 - c : c);

  context.strokeStyle = ink.colour;
  context.fillStyle = ink.colour;
  context.lineWidth = 1;
  context.globalAlpha = 0.62;
  context.beginPath();
  for (let c = 0; c < columns; c++) {
    const x = ink.x + (c + 0.5) * step;
    const up = press(look.max[at(c)]) * scale * ink.reach;
    const down = press(look.min[at(c)]) * scale * ink.reach;
    // Even silence keeps the line of writing.
    context.moveTo(x, ink.middle - Math.max(0.5, up));
    context.lineTo(x, ink.middle + Math.max(0.5, down));
  }
  context.stroke();

  context.globalAlpha = 1;
  context.beginPath();
  context.moveTo(ink.x, ink.middle);
  for (let c = 0; c < columns; c++) {
    const body = Math.max(0.4, press(look.rms[at(c)]) * scale * ink.reach * 0.82);
    context.lineTo(ink.x + (c + 0.5) * step, ink.middle - body);
  }
  context.lineTo(ink.x + ink.width, ink.middle);
  for (let c = columns - 1; c >= 0; c--) {
    const body = Math.max(0.4, press(look.rms[at(c)]) * scale * ink.reach * 0.82);
    context.lineTo(ink.x + (c + 0.5) * step, ink.middle + body);
  }
  context.closePath();
  context.fill();
}
