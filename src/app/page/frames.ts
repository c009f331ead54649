import { onCleanup } from 'solid-js';

/** Work that is done once a frame while something sounds: play heads, and what they pass over. */
export interface Frames {
  /** Calls `each` every frame from now on; the result stops it. */
  readonly follow: (each: () => void) => () => void;
  /** Lets frames run or rest. */
  readonly run: (running: boolean) => void;
}

/** One loop for the whole page, at rest while nothing moves. */
export function createFrames(): Frames {
  const followers = new Set<() => void>();
  let handle = 0;
  let running = false;
  const frame = () => {
    for (const each of followers) each();
    handle = running ? requestAnimationFrame(frame) : 0;
  };
  onCleanup(() => cancelAnimationFrame(handle));
  return {
    follow: (each) => {
      followers.add(each);
      return () => followers.delete(each);
    },
    run: (next) => {
      running = next;
      // One more frame after the end, so that heads can leave the page.
      if (handle === 0) handle = requestAnimationFrame(frame);
    },
  };
}
