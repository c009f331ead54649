import type { Fix } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { Command } from './command.ts';

/**
 * What the user says about the beats. The document holds only these fixes, in the order in which they
 * were made; the beats themselves are inferred again from them.
 */

/** Two moments this near are the same beat. */
const same: Seconds = 1e-4;

function append(label: string, fixes: readonly Fix[]): Command {
  return {
    label,
    apply: (project) =>
      fixes.length ? { ...project, fixes: [...project.fixes, ...fixes] } : project,
  };
}

/** A beat is exactly there. */
export function addBeat(time: Seconds): Command {
  return append('add a beat', [{ beat: time, by: 'moved' }]);
}

/** Beats tapped along with the take, one undo step for a run. */
export function addTaps(times: readonly Seconds[]): Command {
  return append(
    times.length === 1 ? 'tap a beat' : 'tap beats',
    times.map((beat) => ({ beat, by: 'tapped' as const })),
  );
}

/** The beat shown at `from` belongs at `to`. A beat that was put there by hand is moved, not doubled. */
export function moveBeat(from: Seconds, to: Seconds): Command {
  return {
    label: 'move a beat',
    apply: (project) => {
      const kept = project.fixes.filter(
        (fix) => !('beat' in fix && Math.abs(fix.beat - from) < same),
      );
      return { ...project, fixes: [...kept, { beat: to, by: 'moved' }] };
    },
  };
}

/** The beat shown at `time` is none. */
export function removeBeat(time: Seconds): Command {
  return {
    label: 'remove a beat',
    apply: (project) => {
      const kept = project.fixes.filter(
        (fix) => !('beat' in fix && Math.abs(fix.beat - time) < same),
      );
      return { ...project, fixes: [...kept, { notBeat: time }] };
    },
  };
}

/** The bar starts at the beat there. */
export function markOne(time: Seconds): Command {
  return append('mark the one', [{ one: time }]);
}

/** Twice or half as many beats from a moment on. Of half as many the beat there stays. */
export function changeLevel(level: 'double' | 'half', from: Seconds): Command {
  return append(labels[level], [{ level, from }]);
}

/** Twice or half as many beats all through. Of half as many the beat at `keep` stays. */
export function changeWholeLevel(level: 'double' | 'half', keep: Seconds): Command {
  return append(labels[level], [level === 'half' ? { level, keep } : { level }]);
}

const labels = { double: 'double the beats', half: 'halve the beats' };

/** Every beat moves by half a beat, from a moment on or all through. */
export function shiftBeats(from?: Seconds): Command {
  return append('shift the beats', [
    from === undefined ? { shift: 'half' } : { shift: 'half', from },
  ]);
}

/** Every bar starts a beat later, from a moment on or all through. */
export function shiftBars(from?: Seconds): Command {
  return append('shift the bars', [from === undefined ? { shift: 'bar' } : { shift: 'bar', from }]);
}

/** From there on nothing before teaches anything. */
export function freeFrom(time: Seconds): Command {
  return append('count freely from here', [{ free: time }]);
}

/** Back to the beats as heard. */
export function clearFixes(): Command {
  return {
    label: 'forget all beat corrections',
    apply: (project) => (project.fixes.length ? { ...project, fixes: [] } : project),
  };
}
