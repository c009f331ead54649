import { type Accessor, createSignal } from 'solid-js';
import type { Progress } from '../../shared/math/progress.ts';
import type { Doing } from './desk.ts';
import { isAbort } from './job-client.ts';

/** Runs a long piece of work; null when it failed or was cancelled. What went wrong was told by then. */
export type Work = <T>(
  what: string,
  run: (signal: AbortSignal, progress: Progress) => Promise<T>,
) => Promise<T | null>;

/** One long piece of work at a time: a new one takes the place of the old, once that has put away what it had begun. */
export function createOneWork(
  tell: (error: unknown) => void,
  begins: () => void,
): { readonly work: Work; readonly doing: Accessor<Doing | null>; readonly cancel: () => void } {
  const [doing, setDoing] = createSignal<Doing | null>(null);
  let busy: AbortController | null = null;
  let over: Promise<unknown> = Promise.resolve();

  const work: Work = async (what, run) => {
    busy?.abort();
    const mine = new AbortController();
    busy = mine;
    const cancel = () => mine.abort();
    begins();
    setDoing({ what, share: 0, cancel });
    const before = over;
    const result = before.then(() => {
      mine.signal.throwIfAborted();
      return run(mine.signal, (share, now) => {
        if (busy === mine) setDoing({ what: now || what, share, cancel });
      });
    });
    over = result.catch(() => {});
    try {
      return await result;
    } catch (error) {
      // Nobody has changed their mind: a worker or a transaction was ended beneath it.
      const brokenOff = isAbort(error) && !mine.signal.aborted;
      tell(brokenOff ? new Error(`It was broken off (${what}); do it again.`) : error);
      return null;
    } finally {
      if (busy === mine) {
        busy = null;
        setDoing(null);
      }
    }
  };
  return { work, doing, cancel: () => busy?.abort() };
}

/** A stretch of a longer progress. */
export function partOf(progress: Progress, from: number, until: number): Progress {
  return (share, what) => progress(from + share * (until - from), what);
}
