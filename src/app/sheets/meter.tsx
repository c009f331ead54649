import { createSignal, onCleanup, onMount } from 'solid-js';
import { usePage } from '../page/context.ts';
import { figure } from '../sentence/words.ts';

/** Held long enough to be read, then it falls. */
const hold = 1200;

/** The highest peak put out of late, in plain figures. */
export function Meter() {
  const { sound } = usePage();
  const [peak, setPeak] = createSignal(Number.NEGATIVE_INFINITY);
  onMount(() => {
    let since = 0;
    const timer = setInterval(() => {
      const now = sound.readPeak();
      if (now >= peak() || performance.now() - since > hold) {
        setPeak(now);
        since = performance.now();
      }
    }, 120);
    onCleanup(() => clearInterval(timer));
  });
  return (
    <span class="meter">
      {Number.isFinite(peak()) && peak() > -90
        ? `peaks at ${figure(peak(), 1)} dBFS`
        : 'silent now'}
    </span>
  );
}
