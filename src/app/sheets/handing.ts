import { type Accessor, createSignal } from 'solid-js';
import type { NamedFile } from '../../work/desk.ts';
import { saveFile, shareFiles } from '../page/files.ts';
import type { Messages } from '../page/messages.ts';

type Make = () => Promise<readonly NamedFile[]>;

/** Files on their way out of the page, one delivery at a time. */
export interface Handing {
  readonly busy: Accessor<boolean>;
  readonly save: (make: Make) => Promise<void>;
  /** Writes into a folder; `make` answers what it is called there. */
  readonly put: (make: () => Promise<string | null>) => Promise<void>;
  readonly share: (what: string, make: Make) => Promise<void>;
  /** What was made to be shared but took longer than a press lasts: it wants one more press. */
  readonly waiting: Accessor<string | null>;
}

/** @param state what files are made of: what was made of an older one is not shared any more */
export function createHanding(messages: Messages, state: Accessor<unknown>): Handing {
  const [busy, setBusy] = createSignal(false);
  const [made, setMade] = createSignal<{
    what: string;
    of: unknown;
    files: readonly NamedFile[];
  } | null>(null);
  const kept = () => {
    const now = made();
    return now && now.of === state() ? now : null;
  };

  const during = async (run: () => Promise<void>) => {
    const pressed = document.activeElement;
    setBusy(true);
    try {
      await run();
    } catch (problem) {
      messages.error(problem);
    } finally {
      setBusy(false);
      // A button that can't be pressed for a while loses the focus, which belongs to the hand that pressed it.
      const lost = document.activeElement === document.body;
      if (lost && pressed instanceof HTMLElement && pressed.isConnected) pressed.focus();
    }
  };
  const names = (files: readonly NamedFile[]) => files.map((file) => file.name).join(', ');
  const put = (files: readonly NamedFile[], words: string) => {
    for (const file of files) saveFile(file);
    if (files.length > 0) messages.say(`${words} ${names(files)}.`);
  };

  return {
    busy,
    waiting: () => kept()?.what ?? null,
    put: (make) =>
      during(async () => {
        const name = await make();
        if (name !== null) messages.say(`Saved in the folder ${name}.`);
      }),
    save: (make) => during(async () => put(await make(), 'Saved')),
    share: (what, make) =>
      during(async () => {
        const ready = kept()?.what === what ? (kept()?.files ?? []) : null;
        setMade(null);
        const of = state();
        const files = ready ?? (await make());
        if (files.length === 0) return;
        const outcome = await shareFiles(files);
        if (outcome === 'shared') messages.say(`Shared ${names(files)}.`);
        else if (outcome === 'refused') {
          if (ready) put(files, 'This platform does not share such files, so it is saved instead:');
          else setMade({ what, of, files });
        }
      }),
  };
}
