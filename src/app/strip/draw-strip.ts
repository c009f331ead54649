import type { Beat, Phrase } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import type { Peaks } from '../../../shared/take/peaks.ts';
import type { Colours } from '../ink/colours.ts';
import { drawWord } from '../ink/draw-word.ts';
import type { Surface } from '../ink/ink-canvas.tsx';
import { localTempo } from './tempo-curve.ts';

export interface StripInk {
  readonly peaks: Peaks;
  readonly beats: readonly Beat[];
  readonly phrases: readonly Phrase[];
  readonly seconds: Seconds;
  readonly colours: Colours;
}

/** The whole take as ink, its phrases' ends as hair lines, its tempo as a line over it. */
export function drawStrip({ context, width, height }: Surface, ink: StripInk): void {
  const { colours, seconds } = ink;
  const x = (time: Seconds) => (time / seconds) * width;

  context.fillStyle = colours.rule;
  for (const phrase of ink.phrases.slice(1))
    context.fillRect(Math.round(x(phrase.start)), 0, 1, height);

  context.globalAlpha = 1;
  drawWord(context, ink.peaks, {
    from: 0,
    until: seconds,
    x: 0,
    width,
    middle: height / 2,
    reach: height / 2 - 4,
    colour: colours.edge,
  });

  const { pieces, low, high } = localTempo(ink.beats);
  // By its logarithm, as tempo is felt: half and twice are as far from it.
  const y = (bpm: number) => 10 + (1 - Math.log(bpm / low) / Math.log(high / low)) * (height - 20);
  context.strokeStyle = colours.accent;
  context.lineWidth = 1.5;
  context.lineJoin = 'round';
  for (const piece of pieces) {
    context.beginPath();
    piece.forEach((point, i) => {
      if (i === 0) context.moveTo(x(point.time), y(point.bpm));
      else context.lineTo(x(point.time), y(point.bpm));
    });
    context.stroke();
  }
}
