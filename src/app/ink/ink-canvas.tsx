import { createReaction, onCleanup, onMount } from 'solid-js';

/** A canvas in CSS pixels: what is drawn is sharp on every screen. */
export interface Surface {
  readonly context: CanvasRenderingContext2D;
  readonly width: number;
  readonly height: number;
}

/**
 * A canvas that fills its box and draws again, once a frame at most, when anything that `draw` reads
 * has changed: what a finger sets off must not wait for ink. It shows and says nothing to a screen reader:
 * words and buttons lie over it.
 */
export function InkCanvas(props: { class?: string; draw: (surface: Surface) => void }) {
  let canvas!: HTMLCanvasElement;

  onMount(() => {
    const context = canvas.getContext('2d');
    if (!context) return;
    let size = { width: 0, height: 0, ratio: 1 };
    let frame = 0;
    const again = createReaction(() => {
      frame ||= requestAnimationFrame(draw);
    });
    const draw = () => {
      cancelAnimationFrame(frame);
      frame = 0;
      const { width, height, ratio } = size;
      const w = Math.round(width * ratio);
      const h = Math.round(height * ratio);
      again(() => {
        if (w === 0 || h === 0) return;
        if (canvas.width !== w || canvas.height !== h) {
          canvas.width = w;
          canvas.height = h;
        }
        context.setTransform(ratio, 0, 0, ratio, 0, 0);
        context.clearRect(0, 0, width, height);
        props.draw({ context, width, height });
      });
    };
    const measure = () => {
      size = {
        width: canvas.clientWidth,
        height: canvas.clientHeight,
        ratio: Math.min(3, window.devicePixelRatio || 1),
      };
      // At once, before the frame is shown: ink that was stretched to another size would be seen.
      draw();
    };
    const observer = new ResizeObserver(measure);
    observer.observe(canvas);
    // What is printed waits for no frame.
    addEventListener('beforeprint', draw);
    measure();
    onCleanup(() => {
      observer.disconnect();
      removeEventListener('beforeprint', draw);
      cancelAnimationFrame(frame);
    });
  });

  // biome-ignore lint/a11y/noAriaHiddenOnFocusable: a canvas without tabindex takes no focus.
  return <canvas ref={canvas} class={props.class} aria-hidden="true" />;
}
