import { For } from 'solid-js';
import { noteName } from '../../../shared/hear/pitch/note.ts';
import type { PitchMoment, PlayedNote } from '../../../shared/hear/pitch/pitch-track.ts';
import { InkCanvas } from '../ink/ink-canvas.tsx';
import { usePage } from '../page/context.ts';
import { clock } from '../sentence/words.ts';
import { drawTunerLine, left, xOf } from './draw-line.ts';
import type { TunerLine } from './lines.ts';
import { offWords } from './tuner-words.ts';

export interface TunerLineProps {
  readonly line: TunerLine;
  readonly span: number;
  readonly moments: readonly PitchMoment[];
  /** Those that begin on this line. */
  readonly notes: readonly PlayedNote[];
  readonly offset: number;
  readonly chosen: PlayedNote | null;
  /** The one note of the whole tuner that Tab leads to. */
  readonly focused: PlayedNote | null;
  readonly choose: (note: PlayedNote) => void;
}

/** A line as it is seen, and over each note a button that plays it. */
export function TunerLineView(props: TunerLineProps) {
  const { colours } = usePage();
  // Shares of the box, so that nothing has to be measured when it changes its width.
  const share = (time: number) => (xOf(props.line, props.span, 1 + left, time) - left) * 100;
  return (
    <div class="tuner-line">
      <InkCanvas
        class="tuner-curve"
        draw={(surface) =>
          drawTunerLine(surface, {
            line: props.line,
            span: props.span,
            moments: props.moments,
            notes: props.notes,
            offset: props.offset,
            chosen: props.chosen,
            colours: colours(),
          })
        }
      />
      <div class="tuner-notes">
        <For each={props.notes}>
          {(note) => (
            <button
              type="button"
              class="tuner-note"
              tabIndex={note === props.focused ? 0 : -1}
              data-at={note.start}
              style={{
                left: `${share(note.start)}%`,
                width: `${Math.max(0.6, share(Math.min(note.end, props.line.until)) - share(note.start))}%`,
              }}
              aria-label={`${noteName(note.note)}, ${offWords(note.cents)}, at ${clock(note.start, 1)}`}
              title={`${noteName(note.note)}, ${offWords(note.cents)}`}
              onClick={() => props.choose(note)}
            />
          )}
        </For>
      </div>
    </div>
  );
}
