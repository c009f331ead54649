import { onCleanup } from 'solid-js';
import type { PageContext } from './context.ts';

/** A command of the keyboard: what it is called, its keys as written, and how it is told from others. */
export interface Command {
  readonly keys: string;
  readonly words: string;
  readonly is: (event: KeyboardEvent) => boolean;
  readonly run: (page: PageContext) => void;
}

const control = (event: KeyboardEvent) => event.ctrlKey || event.metaKey;
const shifted = (code: string) => (event: KeyboardEvent) =>
  event.shiftKey && !control(event) && !event.altKey && event.code === code;
const held =
  (key: string, shift = false) =>
  (event: KeyboardEvent) =>
    control(event) && event.shiftKey === shift && !event.altKey && event.key.toLowerCase() === key;

export const commands: readonly Command[] = [
  {
    keys: 'Space',
    words: 'play, stop',
    is: (event) => event.code === 'Space' && !control(event) && !event.altKey,
    run: ({ actions }) => actions.toggle(),
  },
  {
    keys: 'Shift P',
    words: 'play the take',
    is: shifted('KeyP'),
    run: ({ actions }) => actions.playTake(),
  },
  {
    keys: 'Shift O',
    words: 'play the loop',
    is: shifted('KeyO'),
    run: ({ actions }) => actions.playLoop(),
  },
  {
    keys: 'Shift A',
    words: 'take or loop, equally loud',
    is: shifted('KeyA'),
    run: ({ actions }) => actions.compare(),
  },
  {
    keys: 'Shift H',
    words: 'hear what is chosen',
    is: shifted('KeyH'),
    run: ({ actions }) => actions.hear(),
  },
  {
    keys: 'Shift R',
    words: 'what is chosen, round and round',
    is: shifted('KeyR'),
    run: ({ actions }) => actions.playRound(),
  },
  {
    keys: 'Shift S',
    words: 'split at the play head, or the chosen slice',
    is: shifted('KeyS'),
    run: ({ actions }) => actions.split(),
  },
  { keys: 'Shift J', words: 'join', is: shifted('KeyJ'), run: ({ actions }) => actions.join() },
  {
    keys: 'Shift L',
    words: 'make a straight loop',
    is: shifted('KeyL'),
    run: ({ actions }) => actions.straight(),
  },
  {
    keys: 'Shift N',
    words: 'set the chosen slices on the lane',
    is: shifted('KeyN'),
    run: ({ actions }) => actions.toLane(),
  },
  {
    keys: 'Shift T',
    words: 'tap the beat along',
    is: shifted('KeyT'),
    run: ({ setTapping, tapping }) => setTapping(!tapping()),
  },
  {
    keys: 'Shift B',
    words: 'the next doubtful beat',
    is: shifted('KeyB'),
    run: ({ actions }) => actions.nextDoubt(),
  },
  { keys: 'Ctrl Z', words: 'undo', is: held('z'), run: ({ actions }) => actions.undo() },
  {
    keys: 'Ctrl Shift Z',
    words: 'redo',
    is: (event) => held('z', true)(event) || held('y')(event),
    run: ({ actions }) => actions.redo(),
  },
  { keys: 'Ctrl O', words: 'open', is: held('o'), run: ({ actions }) => void actions.open() },
  { keys: 'Ctrl S', words: 'save', is: held('s'), run: ({ setOverlay }) => setOverlay('export') },
  {
    keys: '?',
    words: 'this sheet',
    is: (event) => event.key === '?' && !control(event) && !event.altKey,
    run: ({ setOverlay }) => setOverlay('keys'),
  },
  {
    keys: 'Escape',
    words: 'let go; choose nothing',
    is: (event) => event.key === 'Escape',
    run: ({ desk, carrying, setTapping }) => {
      carrying.cancel();
      setTapping(false);
      desk.store.setSession({ selection: { kind: 'nothing' } });
    },
  },
];

/** Whether a key belongs to what is being written, not to the pads. */
function writes(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement) return true;
  if (target instanceof HTMLInputElement)
    return target.type !== 'range' && target.type !== 'checkbox';
  return target.isContentEditable;
}

/** Whether Space belongs to what has the focus: it presses true buttons, but words of sheet and lane are played with Enter. */
function presses(target: EventTarget | null): boolean {
  return (
    target instanceof HTMLElement &&
    target.closest('button, [role="scrollbar"]') !== null &&
    target.closest('.sheet-words, .lane-paper, .pad') === null
  );
}

/** Listens for the commands everywhere but where something is written or a leaf lies over the page. */
export function listenForCommands(page: PageContext): void {
  const down = (event: KeyboardEvent) => {
    if (event.defaultPrevented || page.overlay()) return;
    if (writes(event.target) && !control(event)) return;
    if (event.code === 'Space' && presses(event.target)) return;
    const command = commands.find((one) => one.is(event));
    if (!command || (event.repeat && event.code === 'Space')) return;
    event.preventDefault();
    command.run(page);
  };
  // The coming up of Space would press the focused word a second time.
  const up = (event: KeyboardEvent) => {
    if (event.code === 'Space' && !presses(event.target) && !writes(event.target))
      event.preventDefault();
  };
  window.addEventListener('keydown', down);
  window.addEventListener('keyup', up);
  onCleanup(() => {
    window.removeEventListener('keydown', down);
    window.removeEventListener('keyup', up);
  });
}
