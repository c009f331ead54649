import { createMemo, Show } from 'solid-js';
import { type PadPlace, padAt, samePlace } from '../../store/pad-commands.ts';
import { drawWord } from '../ink/draw-word.ts';
import { InkCanvas } from '../ink/ink-canvas.tsx';
import { usePage } from '../page/context.ts';
import { wentUpUnseen } from '../page/holding.ts';
import { longName } from '../page/naming.ts';
import { figure } from '../sentence/words.ts';
import type { Playing } from './playing.ts';

export interface PadButtonProps {
  readonly place: PadPlace;
  readonly label: string;
  readonly playing: Playing;
  readonly under: boolean;
  /** The one pad in the order of Tab; arrows lead to the others. */
  readonly entry: boolean;
  readonly onFocus: () => void;
}

/** One pad: as wide as its slice is long; sounds the moment it is touched. */
export function PadButton(props: PadButtonProps) {
  const { desk, sound, colours, names, carrying, holding, sliceById, sounding } = usePage();
  /** The pointer that came down first; other fingers on the pad only play it. */
  let grip: {
    readonly pointer: number;
    readonly x: number;
    readonly y: number;
    readonly at: number;
    /** Once it takes the slice along. */
    readonly letGo: (() => void) | null;
  } | null = null;
  const end = (over?: PointerEvent) => {
    if (grip?.letGo) {
      grip.letGo();
      if (over) carrying.drop(over.clientX, over.clientY);
      else carrying.cancel();
    }
    grip = null;
  };
  const { store } = desk;
  const pad = createMemo(() => {
    const project = store.project();
    return project ? padAt(project, props.place) : undefined;
  });
  const slice = createMemo(() => sliceById().get(pad()?.slice ?? ''));
  /** It is played, or its slice sounds elsewhere: in the take, in the loop, by itself. */
  const sounds = () =>
    sound.sounding().pads.some((one) => samePlace(one, props.place)) ||
    sounding().has(pad()?.slice ?? '');
  const chosen = () => {
    const { selection } = store.session;
    return selection.kind === 'pads' && selection.places.some((one) => samePlace(one, props.place));
  };
  const choose = () => {
    if (slice()) store.setSession({ selection: { kind: 'pads', places: [props.place] } });
  };
  const name = () => {
    const one = pad();
    if (!one) return `Pad ${props.label}, empty`;
    return `Pad ${props.label}, ${longName(names().get(one.slice))}`;
  };
  /** What is not plain about it, in a few signs. */
  const more = () => {
    const one = pad();
    if (!one) return '';
    const pitch = one.semitones ? `${one.semitones > 0 ? '+' : ''}${figure(one.semitones)}` : '';
    return [pitch, one.direction === 'backwards' ? '←' : '', one.choke ?? '']
      .filter(Boolean)
      .join(' ');
  };
  // Long tails must not starve their neighbours: width grows more slowly than length does.
  const long = () => {
    const one = slice();
    return one ? Math.max(0.25, one.end - one.start) ** 0.6 : 0;
  };

  return (
    <button
      type="button"
      class="pad"
      classList={{ sounds: sounds(), none: !slice(), under: props.under }}
      data-pad={`${props.place.row} ${props.place.key}`}
      aria-label={name()}
      tabIndex={props.entry ? 0 : -1}
      aria-pressed={chosen()}
      style={{ '--long': String(long()) }}
      onFocus={props.onFocus}
      onPointerDown={(event) => {
        if (event.button !== 0) return;
        props.playing.press(props.place, `p${event.pointerId}`, event.timeStamp);
        choose();
        const { pointerId: pointer, clientX: x, clientY: y, timeStamp: at } = event;
        grip ??= { pointer, x, y, at, letGo: null };
        event.currentTarget.setPointerCapture(pointer);
      }}
      onPointerMove={(event) => {
        if (event.pointerId !== grip?.pointer) return;
        // Nothing may sound on for ever.
        if (wentUpUnseen(event)) {
          props.playing.release(`p${event.pointerId}`);
          return end();
        }
        if (grip.letGo) return carrying.move(event.clientX, event.clientY);
        const one = slice();
        const far = Math.hypot(event.clientX - grip.x, event.clientY - grip.y) > 30;
        // A finger that slips while it plays takes nothing along; one that has rested does.
        const meant = event.pointerType !== 'touch' || event.timeStamp - grip.at > 450;
        if (!far || !meant || !one || carrying.carried()) return;
        carrying.lift([one.id], event.clientX, event.clientY, props.place);
        grip = { ...grip, letGo: holding.take(() => end()) };
      }}
      onPointerUp={(event) => {
        props.playing.release(`p${event.pointerId}`);
        if (event.pointerId === grip?.pointer) end(event);
      }}
      onPointerCancel={(event) => {
        props.playing.release(`p${event.pointerId}`);
        if (event.pointerId === grip?.pointer) end();
      }}
      onContextMenu={(event) => event.preventDefault()}
      onKeyDown={(event) => {
        if (event.key !== 'Enter' || event.shiftKey || event.altKey) return;
        if (event.ctrlKey || event.metaKey) return;
        event.preventDefault();
        if (event.repeat) return;
        choose();
        props.playing.press(props.place, 'enter', event.timeStamp);
      }}
      onKeyUp={(event) => {
        if (event.key === 'Enter') props.playing.release('enter');
      }}
      onBlur={() => props.playing.release('enter')}
      onClick={(event) => {
        // By a screen reader; keys, fingers and mice have been heard at their coming down.
        if (event.detail !== 0) return;
        choose();
        props.playing.press(props.place, 'click', event.timeStamp);
        props.playing.release('click');
      }}
    >
      <span class="pad-key" aria-hidden="true">
        {props.label}
      </span>
      <Show when={slice()}>
        <span class="pad-more" aria-hidden="true">
          {more()}
        </span>
        <InkCanvas
          class="pad-ink"
          draw={({ context, width, height }) => {
            const heard = store.heard();
            const one = slice();
            if (!heard || !one) return;
            drawWord(context, heard.peaks, {
              from: one.start,
              until: one.end,
              x: 0,
              width,
              middle: height / 2,
              reach: height / 2 - 1,
              alone: true,
              colour: sounds() ? colours().accent : colours().ink,
              backwards: pad()?.direction === 'backwards',
            });
          }}
        />
      </Show>
    </button>
  );
}
