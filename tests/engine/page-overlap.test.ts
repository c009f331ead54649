import { createRoot, createSignal } from 'solid-js';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { createActions } from '../../src/app/page/actions.ts';
import { createBringing } from '../../src/app/page/bring-to-pitch.ts';
import type { PageContext } from '../../src/app/page/context.ts';
import { createDropping } from '../../src/app/page/dropping.ts';
import { createMessages } from '../../src/app/page/messages.ts';
import { createHanding } from '../../src/app/sheets/handing.ts';
import { setPad } from '../../src/store/pad-commands.ts';
import { createProjectStore } from '../../src/store/project-store.ts';
import type { Desk, Loop, NamedFile } from '../../src/work/desk.ts';
import { plainProject } from './store-arbitraries.ts';

/** What the page's parts do with answers that come after something else has happened. */
afterEach(() => {
  vi.unstubAllGlobals();
});

/** An answer that comes when the test says so. */
function later<T>() {
  let come: (value: T) => void = () => {};
  let fail: (error: unknown) => void = () => {};
  const answer = new Promise<T>((resolve, reject) => {
    come = resolve;
    fail = reject;
  });
  return { answer, come, fail };
}

it('of two drops the newer one is opened, however long the older takes to be listed', async () => {
  const page = new EventTarget();
  vi.stubGlobal('window', page);
  const opened: string[][] = [];
  const openFiles = async (files: readonly File[]) =>
    void opened.push(files.map(({ name }) => name));
  const listed = later<void>();
  const inside = {
    isFile: true,
    name: 'slow.wav',
    file: (give: (file: File) => void) => give(new File([], 'slow.wav')),
  };
  let told = false;
  const folder = {
    isDirectory: true,
    createReader: () => ({
      readEntries: (give: (entries: unknown[]) => void) =>
        void listed.answer.then(() => {
          give(told ? [] : [inside]);
          told = true;
        }),
    }),
  };
  const drop = (transfer: object) =>
    page.dispatchEvent(
      Object.assign(new Event('drop', { cancelable: true }), {
        dataTransfer: { types: ['Files'], ...transfer },
      }),
    );
  await createRoot(async (end) => {
    createDropping({ desk: { openFiles }, messages: createMessages() } as unknown as PageContext);
    drop({ files: [], items: [{ webkitGetAsEntry: () => folder }] });
    drop({ files: [new File([], 'newer.wav')], items: [] });
    await vi.waitFor(() => expect(opened).toEqual([['newer.wav']]));
    listed.come();
    for (let turn = 0; turn < 20; turn++) await new Promise((next) => setImmediate(next));
    expect(opened).toEqual([['newer.wav']]);
    end();
  });
});

describe('a loop that is asked for before it is rendered', () => {
  const setUp = async (
    run: (parts: {
      actions: ReturnType<typeof createActions>;
      played: () => number;
      setLoop: (loop: Loop | null) => void;
      setRendering: (rendering: boolean) => void;
    }) => void,
  ) =>
    createRoot(async (end) => {
      const store = createProjectStore();
      store.open(plainProject());
      const [loop, setLoop] = createSignal<Loop | null>(null);
      const [rendering, setRendering] = createSignal(true);
      let played = 0;
      const actions = createActions({
        desk: { store, loop, rendering },
        sound: {
          playing: () => 'nothing',
          wake: async () => {},
          playLoop: async () => {
            played += 1;
          },
        },
        lane: () => store.project()?.lanes[0] ?? null,
        messages: createMessages(),
      } as unknown as PageContext);
      await Promise.resolve();
      run({
        actions,
        played: () => played,
        setLoop: (next) => void setLoop(() => next),
        setRendering,
      });
      end();
    });

  it('is heard once it is there', () =>
    setUp(({ actions, played, setLoop, setRendering }) => {
      actions.playLoop();
      setLoop({} as Loop);
      setRendering(false);
      expect(played()).toBe(1);
    }));

  it('is not heard in place of one that did not come', () =>
    setUp(({ actions, played, setLoop, setRendering }) => {
      actions.playLoop();
      // Taken back, or it failed.
      setRendering(false);
      setRendering(true);
      setLoop({} as Loop);
      setRendering(false);
      expect(played()).toBe(0);
    }));
});

describe('pads that are brought to the key', () => {
  const place = { row: 0, key: 0 };
  const setUp = () => {
    const store = createProjectStore();
    const pads = (id: string) => setPad(place, 's1').apply({ ...plainProject(), id });
    store.open(pads('one'));
    store.setHeard({
      key: { tonic: 'C', mode: 'major', confidence: 1 },
      tuning: { a4: 440, cents: 0, confidence: 1 },
    } as unknown as Parameters<typeof store.setHeard>[0]);
    store.setSession({ selection: { kind: 'pads', places: [place] } });
    const notes = later<Awaited<ReturnType<Desk['hearNotes']>>>();
    const messages = createMessages();
    const desk = { store, hearNotes: () => notes.answer } as unknown as Desk;
    return { store, pads, notes, messages, bringing: createBringing({ desk, messages }) };
  };

  it('are none of another project that was opened meanwhile', () =>
    createRoot(async (end) => {
      const { store, pads, notes, bringing } = setUp();
      const brought = bringing.toKey();
      store.open(pads('another'));
      notes.come([{ note: 61.3, cents: 30, confidence: 1 } as never]);
      await brought;
      expect(store.undoLabel()).toBeNull();
      end();
    }));

  it('stay where that was broken off, and it is said', () =>
    createRoot(async (end) => {
      const { store, notes, messages, bringing } = setUp();
      const brought = bringing.toKey();
      notes.fail(new DOMException('The worker was ended.', 'AbortError'));
      await brought;
      expect(store.undoLabel()).toBeNull();
      expect(messages.list().map(({ text }) => text)).toEqual(['It was broken off; do it again.']);
      end();
    }));
});

it('a file that waits to be shared is made anew where something has changed since', () =>
  createRoot(async (end) => {
    vi.stubGlobal('document', { activeElement: null, body: {} });
    vi.stubGlobal('HTMLElement', class {});
    const shared: string[] = [];
    let pressed = false;
    vi.stubGlobal('navigator', {
      share: async ({ files }: { files: File[] }) => {
        if (!pressed) throw new DOMException('Too long ago.', 'NotAllowedError');
        shared.push(...files.map(({ name }) => name));
      },
    });
    const [state, setState] = createSignal(1);
    const handing = createHanding(createMessages(), state);
    const make = async (): Promise<NamedFile[]> => [
      { name: `loop of ${state()}`, blob: new Blob() },
    ];
    await handing.share('loop', make);
    expect(handing.waiting()).toBe('loop');
    setState(2);
    expect(handing.waiting()).toBeNull();
    pressed = true;
    await handing.share('loop', make);
    expect(shared).toEqual(['loop of 2']);
    end();
  }));
