import { type Accessor, createSignal, onCleanup } from 'solid-js';
import type { PageContext } from './context.ts';

/** Files dropped anywhere on the page are opened; answers whether files hang over it now. */
export function createDropping({ desk }: PageContext): Accessor<boolean> {
  const [over, setOver] = createSignal(false);
  const hasFiles = (event: DragEvent) => event.dataTransfer?.types.includes('Files') ?? false;
  const enter = (event: DragEvent) => {
    if (!hasFiles(event)) return;
    event.preventDefault();
    setOver(true);
  };
  const leave = (event: DragEvent) => {
    if (event.relatedTarget === null) setOver(false);
  };
  const drop = (event: DragEvent) => {
    if (!hasFiles(event)) return;
    event.preventDefault();
    setOver(false);
    const files = [...(event.dataTransfer?.files ?? [])];
    if (files.length) void desk.openFiles(files);
  };
  window.addEventListener('dragover', enter);
  window.addEventListener('dragleave', leave);
  window.addEventListener('drop', drop);
  onCleanup(() => {
    window.removeEventListener('dragover', enter);
    window.removeEventListener('dragleave', leave);
    window.removeEventListener('drop', drop);
  });
  return over;
}
