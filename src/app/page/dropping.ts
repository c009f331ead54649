import { type Accessor, createSignal, onCleanup } from 'solid-js';
import type { PageContext } from './context.ts';
import { droppedFiles } from './dropped-files.ts';

/** Files and folders dropped anywhere on the page are opened; answers whether files hang over it now. */
export function createDropping({ desk, messages }: PageContext): Accessor<boolean> {
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
    if (event.dataTransfer) void open(event.dataTransfer).catch(messages.error);
  };
  let drops = 0;
  const open = async (transfer: DataTransfer) => {
    drops += 1;
    const mine = drops;
    const { files, folders } = await droppedFiles(transfer);
    // A large folder may be listed only after the next drop.
    if (mine !== drops) return;
    if (files.length > 0) await desk.openFiles(files);
    else if (folders)
      desk.setProblem(
        'No recording lies in that folder; drop one that holds a take and its stems.',
      );
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
