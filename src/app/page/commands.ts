import { onCleanup } from 'solid-js';
import type { PageContext } from './context.ts';

/** A command of the keyboard: what it is called, its keys as written, and how it is told from others. */
export interface Command {
  readonly keys: string;
  readonly words: string;
  readonly is: (event: KeyboardEvent) => boolean;
  readonly run: (page: PageContext, event: KeyboardEvent) => void;
  /** Done again and again while it is held. */
  readonly repeats?: true;
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
    words: 'split: at the play head, where the mouse points, or at the mark',
    is: shifted('KeyS'),
    run: ({ actions }) => actions.split('keys'),
  },
  {
    keys: ', .',
    words: 'the mark to the attack before, after; with Alt by 10 ms',
    repeats: true,
    is: (event) => !control(event) && (event.code === 'Comma' || event.code === 'Period'),
    run: ({ actions }, event) => actions.moveMark(event.code === 'Comma' ? -1 : 1, event.altKey),
  },
  {
    keys: 'Shift D',
    words: 'a beat is there: at the play head, the mark or the landing',
    is: shifted('KeyD'),
    run: ({ actions }) => actions.beatHere(),
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
    repeats: true,
    is: shifted('KeyB'),
    run: ({ actions }) => actions.nextDoubt(),
  },
  {
    keys: 'Shift U',
    words: 'how it is tuned',
    is: shifted('KeyU'),
    run: ({ desk, setOverlay }) => {
      if (desk.store.heard()) setOverlay('tuner');
    },
  },
  {
    keys: '+ −',
    words: 'set the lines closer, wider',
    repeats: true,
    is: (event) => !control(event) && !event.altKey && /^[+=-]$/.test(event.key),
    run: ({ actions }, event) => actions.zoom(event.key === '-' ? 'wider' : 'closer'),
  },
  {
    keys: 'Alt Enter',
    words: 'to the sentence of what is chosen',
    is: (event) => event.key === 'Enter' && event.altKey && !control(event) && !event.shiftKey,
    run: () => document.querySelector<HTMLElement>('.sentence :is(input, select, button)')?.focus(),
  },
  {
    keys: 'Ctrl Z',
    words: 'undo',
    repeats: true,
    is: held('z'),
    run: ({ actions }) => actions.undo(),
  },
  {
    keys: 'Ctrl Shift Z',
    words: 'redo',
    repeats: true,
    is: (event) => held('z', true)(event) || held('y')(event),
    run: ({ actions }) => actions.redo(),
  },
  {
    keys: 'Ctrl A',
    words: 'choose every word, on the lane every word of the flip',
    // In a text it is that text.
    is: (event) => held('a')(event) && !writes(event.target, false),
    run: ({ actions }) => actions.chooseAll(),
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
    run: ({ desk, setTapping }) => {
      setTapping(false);
      desk.store.setSession({ selection: { kind: 'nothing' } });
    },
  },
];

/** Whether a key belongs to what is being written. Letters choose in a list; Space is no letter of one. */
function writes(target: EventTarget | null, space: boolean): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target instanceof HTMLSelectElement) return !space;
  if (target instanceof HTMLTextAreaElement) return true;
  if (target instanceof HTMLInputElement)
    return target.type !== 'range' && target.type !== 'checkbox';
  return target.isContentEditable;
}

/** Listens for the commands everywhere but where something is written or a leaf lies over the page. */
export function listenForCommands(page: PageContext): void {
  const down = (event: KeyboardEvent) => {
    if (event.defaultPrevented || page.overlay()) return;
    // Space always plays and stops: what has the focus is pressed with Enter. A text alone keeps its spaces.
    const space = event.code === 'Space' && !control(event) && !event.altKey;
    if (writes(event.target, space) && !control(event)) return;
    // What is written but not taken yet is taken back as in any text.
    if (event.target === written && (held('z')(event) || held('z', true)(event))) return;
    const command = commands.find((one) => one.is(event));
    if (!command) return;
    event.preventDefault();
    if (!event.repeat || command.repeats) command.run(page, event);
  };
  let written: EventTarget | null = null;
  const write = ({ target }: Event) => {
    if (writes(target, true)) written = target;
  };
  const take = () => {
    written = null;
  };
  const takes = ({ key }: KeyboardEvent) => {
    if (/^(Enter|Escape|Arrow(Up|Down)|Page(Up|Down))$/.test(key)) take();
  };
  // The coming up of Space would press the button that has the focus.
  const up = (event: KeyboardEvent) => {
    if (event.code === 'Space' && !page.overlay() && !writes(event.target, true))
      event.preventDefault();
  };
  window.addEventListener('input', write);
  window.addEventListener('focusout', take);
  window.addEventListener('keydown', takes, { capture: true });
  window.addEventListener('keydown', down);
  window.addEventListener('keyup', up);
  onCleanup(() => {
    window.removeEventListener('input', write);
    window.removeEventListener('focusout', take);
    window.removeEventListener('keydown', takes, { capture: true });
    window.removeEventListener('keydown', down);
    window.removeEventListener('keyup', up);
  });
}
