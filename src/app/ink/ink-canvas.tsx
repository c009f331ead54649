import { createEffect, createSignal, onCleanup, onMount } from 'solid-js';

/** A canvas in CSS pixels: what is drawn is sharp on every screen. */
export interface Surface {
  readonly context: CanvasRenderingContext2D;
  readonly width: number;
  readonly height: number;
}

/**
 * A canvas that fills its box and draws again, once a frame at most, when anything that `draw` reads
 * has changed. It shows and says nothing to a screen reader: words and buttons lie over it.
 */
export function InkCanvas(props: { class?: string; draw: (surface: Surface) => void }) {
  let canvas!: HTMLCanvasElement;
  const [size, setSize] = createSignal({ width: 0, height: 0, ratio: 1 });

  onMount(() => {
    const measure = () =>
      setSize({
        width: canvas.clientWidth,
        height: canvas.clientHeight,
        ratio: Math.min(3, window.devicePixelRatio || 1),
      });
    const observer = new ResizeObserver(measure);
    observer.observe(canvas);
    measure();
    onCleanup(() => observer.disconnect());

    const context = canvas.getContext('2d');
    if (!context) return;
    createEffect(() => {
      const { width, height, ratio } = size();
      const w = Math.round(width * ratio);
      const h = Math.round(height * ratio);
      if (w === 0 || h === 0) return;
      if (canvas.width !== w || canvas.height !== h) {
        canvas.width = w;
        canvas.height = h;
      }
      context.setTransform(ratio, 0, 0, ratio, 0, 0);
      context.clearRect(0, 0, width, height);
      props.draw({ context, width, height });
    });
  });

  // biome-ignore lint/a11y/noAriaHiddenOnFocusable: a canvas without tabindex takes no focus.
  return <canvas ref={canvas} class={props.class} aria-hidden="true" />;
}
