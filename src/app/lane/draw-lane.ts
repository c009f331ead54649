import type { Lane } from '../../../shared/loop/lane.ts';
import { beatsOf } from '../../../shared/loop/length.ts';
import type { Peaks } from '../../../shared/take/peaks.ts';
import type { Colours } from '../ink/colours.ts';
import { drawWord } from '../ink/draw-word.ts';
import type { Surface } from '../ink/ink-canvas.tsx';
import type { LaneSetting, LaneWord } from './lane-words.ts';

/** Where the words stand on the lane, in CSS pixels from its top and bottom: bars' numbers fit above them. */
export const laneMeasure = (rem: number) => ({ top: 6 + rem, foot: 12 });

export interface LaneInk {
  readonly lane: Lane;
  readonly setting: LaneSetting;
  readonly peaks: Peaks;
  readonly colours: Colours;
  readonly selected: ReadonlySet<string>;
  readonly passing: ReadonlySet<string>;
  readonly name: (word: LaneWord) => string;
  /** A word under the hand: where it would land. */
  readonly carried: number | null;
}

/** Bars and beats as hair lines, words set against them, and a fine stroke at each attack. */
export function drawLane({ context, width, height }: Surface, ink: LaneInk): void {
  const { lane, setting, colours } = ink;
  const beats = beatsOf(lane);
  const x = (beat: number) => (beat / beats) * (width - 1);
  const { rem } = colours;
  const { top, foot } = laneMeasure(rem);
  const bottom = height - foot;

  context.textBaseline = 'alphabetic';
  context.textAlign = 'left';
  for (let beat = 0; beat <= beats; beat++) {
    const bar = beat % lane.beatsPerBar === 0;
    if (!bar && beats > 64) continue;
    context.fillStyle = bar ? colours.ink : colours.rule;
    context.fillRect(Math.round(x(beat)), bar ? 0 : 2, 1, height - (bar ? 0 : 2));
    if (bar && beat < beats) {
      context.fillStyle = colours.inkSoft;
      context.font = `${0.75 * rem}px ${colours.figures}`;
      context.fillText(String(beat / lane.beatsPerBar + 1), x(beat) + 5, top - 9);
    }
  }

  for (const word of setting.words) {
    const left = x(word.from) + 2;
    const w = Math.max(3, x(word.until) - x(word.from) - 3);
    const sounds = ink.passing.has(word.id);
    const chosen = ink.selected.has(word.id);
    context.fillStyle = sounds ? colours.accentWash : chosen ? colours.leafPressed : colours.leaf;
    context.strokeStyle = sounds ? colours.accent : chosen ? colours.ink : colours.edge;
    context.lineWidth = chosen ? 1.5 : 1;
    context.beginPath();
    context.roundRect(left + 0.5, top + 0.5, w - 1, bottom - top - 1, 4);
    context.fill();
    context.stroke();
    drawWord(context, ink.peaks, {
      from: word.soundFrom,
      until: word.soundUntil,
      x: left + 3,
      width: Math.max(1, w - 6),
      middle: (top + bottom) / 2 + rem * 0.3125,
      reach: (bottom - top) / 2 - 0.75 * rem,
      alone: true,
      colour: sounds ? colours.accent : colours.ink,
      backwards: word.placement?.direction === 'backwards',
    });
    const label = ink.name(word);
    context.font = `${0.6875 * rem}px ${colours.figures}`;
    if (context.measureText(label).width < w - 8) {
      context.fillStyle = sounds ? colours.accent : colours.inkSoft;
      context.fillText(label, left + 6, top + 0.875 * rem);
    }
    context.fillStyle = sounds ? colours.accent : colours.ink;
    context.fillRect(x(word.at) - 0.25, bottom + 3, 1.5, foot - 4);
  }

  // Where an attack falls beside its grid point: a stroke from one to the other, under the words.
  const shift = 0.004 * (lane.bpm / 60);
  for (const attack of setting.attacks) {
    if (Math.abs(attack.at - attack.grid) < shift) continue;
    const a = x(Math.min(attack.at, attack.grid));
    const b = x(Math.max(attack.at, attack.grid));
    context.fillStyle = colours.ink;
    context.fillRect(a, height - 2, Math.max(1, b - a), 2);
    context.globalAlpha = 0.35;
    context.fillRect(x(attack.at) - 0.5, top + 2, 1, bottom - top - 4);
    context.globalAlpha = 1;
  }

  if (ink.carried !== null) {
    context.fillStyle = colours.accent;
    context.fillRect(x(ink.carried) - 1, top - 8, 2, bottom - top + 16);
  }
}
