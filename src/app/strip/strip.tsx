import { createMemo, onCleanup, onMount, Show } from 'solid-js';
import { InkCanvas } from '../ink/ink-canvas.tsx';
import { usePage } from '../page/context.ts';
import { wentUpUnseen } from '../page/holding.ts';
import { clock, figure } from '../sentence/words.ts';
import { drawStrip } from './draw-strip.ts';
import { localTempo } from './tempo-curve.ts';
import './strip.css';

/** The whole take: its ink, its tempo, and a frame round the lines in view, which is dragged to read on. */
export function Strip() {
  const { desk, sound, colours, reading, frames } = usePage();
  let paper!: HTMLDivElement;
  let head!: HTMLDivElement;
  const seconds = () => desk.store.project()?.take.seconds ?? 0;
  const tempo = createMemo(() => localTempo(desk.store.heard()?.beats ?? []));

  const timeAt = (x: number): number => {
    const box = paper.getBoundingClientRect();
    return Math.min(1, Math.max(0, (x - box.left) / box.width)) * seconds();
  };

  let grip: number | null = null;
  const down = (event: PointerEvent) => {
    if (event.button !== 0 || seconds() === 0) return;
    const time = timeAt(event.clientX);
    const inside = time >= reading.from() && time <= reading.until();
    grip = inside ? time - reading.from() : (reading.until() - reading.from()) / 2;
    paper.setPointerCapture(event.pointerId);
    if (!inside) reading.goTo(Math.max(0, time - grip));
  };
  const move = (event: PointerEvent) => {
    if (wentUpUnseen(event)) grip = null;
    if (grip !== null) reading.goTo(Math.max(0, timeAt(event.clientX) - grip));
  };
  const up = () => {
    grip = null;
  };
  const key = (event: KeyboardEvent) => {
    const span = reading.until() - reading.from();
    const to: Record<string, number> = {
      ArrowRight: reading.from() + span / 3,
      ArrowLeft: reading.from() - span / 3,
      ArrowDown: reading.from() + span / 3,
      ArrowUp: reading.from() - span / 3,
      PageDown: reading.from() + span,
      PageUp: reading.from() - span,
      Home: 0,
      End: seconds(),
    };
    if (!(event.key in to)) return;
    event.preventDefault();
    reading.goTo(Math.min(seconds(), Math.max(0, to[event.key] as number)));
  };

  onMount(() => {
    let shown: number | null = null;
    onCleanup(
      frames.follow(() => {
        const time = sound.takeTime();
        head.classList.toggle('on', time !== null);
        if (time !== null && time !== shown)
          head.style.setProperty(
            'transform',
            `translateX(${(time / Math.max(seconds(), 1e-3)) * paper.clientWidth}px)`,
          );
        shown = time;
      }),
    );
  });

  const share = (time: number) => `${(time / Math.max(seconds(), 1e-3)) * 100}%`;
  return (
    <section class="strip" aria-label="The whole take">
      <div
        class="strip-paper"
        ref={paper}
        onPointerDown={down}
        onPointerMove={move}
        onPointerUp={up}
        onPointerCancel={up}
      >
        <InkCanvas
          class="strip-ink"
          draw={(surface) => {
            const heard = desk.store.heard();
            if (!heard) return;
            drawStrip(surface, {
              peaks: heard.peaks,
              beats: heard.beats,
              phrases: heard.phrases,
              seconds: seconds(),
              colours: colours(),
            });
          }}
        />
        <Show when={desk.store.heard()}>
          <Show when={tempo().median}>
            {(bpm) => (
              <p class="strip-tempo" title="The players' own tempo: its median">
                {figure(bpm())} bpm
              </p>
            )}
          </Show>
          <div
            class="strip-frame"
            role="scrollbar"
            tabIndex={0}
            aria-label="Lines in view"
            aria-controls="sheet"
            aria-orientation="horizontal"
            aria-valuemin={0}
            aria-valuemax={Math.round(seconds())}
            aria-valuenow={Math.round(reading.from())}
            aria-valuetext={`${clock(reading.from())} to ${clock(reading.until())}`}
            style={{
              left: share(reading.from()),
              width: share(Math.max(0, Math.min(seconds(), reading.until()) - reading.from())),
            }}
            onKeyDown={key}
          />
        </Show>
        <div class="head-line" ref={head} />
      </div>
    </section>
  );
}
