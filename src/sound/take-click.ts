import type { Beat } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { Graph } from './engine.ts';
import { clickSound } from './plain-beat.ts';
import type { Playback } from './playback.ts';
import { makeVoice, type Voice } from './voice.ts';

/** Clicks are set this far ahead: more than the second to which browsers slow the timers of a hidden page. */
const ahead: Seconds = 2.2;
const every = 150;

/**
 * Clicks at the beats of a take that plays in free time. The beats may change while it plays: what was
 * set for the old ones is taken back.
 *
 * @param time the position of the take at a moment of the context's clock, and back
 */
export function makeTakeClick(
  graph: Graph,
  playback: Playback,
  stretch: { readonly from: Seconds; readonly until: Seconds; readonly round: boolean },
  beats: () => readonly Beat[],
): { readonly stop: () => void } {
  const sounds = [true, false].map((one) => {
    const samples = clickSound(graph.native.sampleRate, one);
    const buffer = graph.native.createBuffer(1, samples.length, graph.native.sampleRate);
    buffer.getChannelData(0).set(samples);
    return buffer;
  });
  let set: { at: Seconds; voice: Voice }[] = [];
  let reached = playback.began();
  let known = beats();

  const step = () => {
    const now = graph.native.currentTime;
    set = set.filter(({ at }) => at > now - 0.1);
    if (beats() !== known) {
      known = beats();
      for (const { at, voice } of set) if (at > now) voice.stop(0.001);
      set = set.filter(({ at }) => at <= now);
      reached = Math.max(now, playback.began());
    }
    const until = now + ahead;
    for (let from = Math.max(reached, now); from < until; ) {
      const position = playback.positionAt(from);
      // Up to where the take turns back, then on from its start.
      const left = stretch.until - position;
      const span = Math.min(until - from, Math.max(left, 0));
      for (const beat of known) {
        const at = from + (beat.time - position);
        if (beat.time < position || beat.time >= position + span) continue;
        const [one, other] = sounds;
        const buffer = beat.count === 1 ? one : other;
        if (buffer)
          set.push({ at, voice: makeVoice(graph, { buffer, destination: graph.out, at }) });
      }
      from += Math.max(span, 1e-4);
      reached = from;
      if (!stretch.round && left <= span) break;
    }
  };
  step();
  const timer = setInterval(step, every);
  return {
    stop: () => {
      clearInterval(timer);
      for (const { voice } of set) voice.stop(0.005);
    },
  };
}
