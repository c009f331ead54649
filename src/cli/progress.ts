import type { Progress } from '../../shared/math/progress.ts';

/** Progress on the terminal's own line; nothing where stderr is a file or a pipe. */
export function terminalProgress(): Progress | undefined {
  const { stderr } = process;
  if (!stderr.isTTY) return undefined;
  let shown = '';
  return (share, doing) => {
    const line = share >= 1 ? '' : `${Math.floor(share * 100)} % ${doing}`;
    if (line === shown) return;
    shown = line;
    stderr.write(`\r\x1b[K${line}`);
  };
}

/** A part of a longer progress: from `start`, `share` of the whole. */
export function partOf(progress: Progress | undefined, start: number, share: number) {
  return progress && ((done: number, doing: string) => progress(start + done * share, doing));
}
