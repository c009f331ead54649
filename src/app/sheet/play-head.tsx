import { onCleanup, onMount } from 'solid-js';
import { usePage } from '../page/context.ts';
import { type RowMeasure, xOf } from './page-measure.ts';
import { type Row, rowAt } from './writing.ts';

export interface PlayHeadProps {
  readonly rows: readonly Row[];
  readonly measure: RowMeasure;
  /** Height of the window on the writing. */
  readonly height: number;
  readonly scroller: HTMLElement;
}

/** The play head on the sheet; it reads on with what sounds, unless the reader has turned to another place. */
export function PlayHead(props: PlayHeadProps) {
  const { sound, frames } = usePage();
  let head!: HTMLDivElement;
  let followed = -1;

  const seen = (row: number) => {
    const middle = (row + 0.5) * props.measure.height - props.scroller.scrollTop;
    return middle > 0 && middle < props.height;
  };
  const follow = (row: number) => {
    if (row === followed) return;
    const elsewhere = followed >= 0 && !seen(followed);
    followed = row;
    if (!elsewhere && !seen(row)) props.scroller.scrollTop = row * props.measure.height;
  };

  onMount(() => {
    onCleanup(
      frames.follow(() => {
        const time = sound.takeTime();
        const i = time === null ? -1 : rowAt(props.rows, time);
        const row = props.rows[i];
        const on = time !== null && row !== undefined && time < row.until + 0.5;
        head.classList.toggle('on', on);
        if (!on || !row || time === null) {
          followed = -1;
          return;
        }
        follow(i);
        const { height, top, foot } = props.measure;
        head.style.setProperty('height', `${foot - top + 8}px`);
        head.style.setProperty(
          'transform',
          `translate(${xOf(row, Math.min(time, row.until))}px, ${i * height + top - 4}px)`,
        );
      }),
    );
  });
  return <div class="head-line" ref={head} />;
}
