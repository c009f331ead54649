import {
  createEffect,
  createMemo,
  createSignal,
  lazy,
  Match,
  onCleanup,
  onMount,
  Show,
  Suspense,
  Switch,
  untrack,
} from 'solid-js';
import type { Sound } from '../../sound/sound.ts';
import type { createSettings } from '../../store/settings.ts';
import type { Desk } from '../../work/desk.ts';
import { laneInView } from '../../work/live-loop.ts';
import { Head } from '../head/head.tsx';
import { createColours } from '../ink/colours.ts';
import { LaneRegion } from '../lane/lane.tsx';
import { type LaneSetting, setLane } from '../lane/lane-words.ts';
import { createPlaying } from '../rows/playing.ts';
import { Rows } from '../rows/rows.tsx';
import { Sentence } from '../sentence/sentence.tsx';
import { counted } from '../sentence/words.ts';
import { Sheet } from '../sheet/sheet.tsx';
import { fittingSpan } from '../sheet/writing.ts';
import { ExportLeaf } from '../sheets/export-leaf.tsx';
import { KeysLeaf } from '../sheets/keys-leaf.tsx';
import { ListeningLeaf } from '../sheets/listening-leaf.tsx';
import { ProjectsLeaf } from '../sheets/projects-leaf.tsx';
import { Strip } from '../strip/strip.tsx';
import { createActions } from './actions.ts';
import { Carried } from './carried.tsx';
import { createCarrying } from './carrying.ts';
import { listenForCommands } from './commands.ts';
import { type Overlay, type PageContext, PageProvider } from './context.ts';
import { createCutMark } from './cut-mark.ts';
import { createDropping } from './dropping.ts';
import { watchFocus } from './focusing.ts';
import { createFrames } from './frames.ts';
import { createHolding } from './holding.ts';
import { createMessages } from './messages.ts';
import { nameSlices } from './naming.ts';
import { keepOffline } from './offline.ts';
import { createReading } from './reading.ts';
import { stillChosen } from './selecting.ts';
import { createSounding } from './sounding.ts';
import { wireSound } from './wire-sound.ts';
import './tokens.css';
import './page.css';
import './controls.css';

/** Looked at now and then: it comes when it is asked for. */
const TunerLeaf = lazy(() =>
  import('../tuner/tuner-leaf.tsx').then((module) => ({ default: module.TunerLeaf })),
);

type Parts = Omit<PageContext, 'actions' | 'playing' | 'midi'>;

/** The one screen: strip, sheet, rows, sentence and lane, and the leaves laid over them. */
export function Page(props: {
  readonly desk: Desk;
  readonly sound: Sound;
  readonly settings: ReturnType<typeof createSettings>;
}) {
  const { desk, sound } = props;
  const { store } = desk;
  const { settings, change } = props.settings;
  const colours = createColours(() => settings.theme);
  const messages = createMessages();
  const reading = createReading();
  const frames = createFrames();
  const [overlay, setOverlay] = createSignal<Overlay>(null);
  const [tapping, setTapping] = createSignal(false);
  const lane = createMemo(() => laneInView(store.project(), store.session.lane));
  // An edit makes a new document; what hangs on its slices alone need not look again at every one.
  const slices = createMemo(() => store.project()?.slices ?? []);
  const sliceById = createMemo(() => new Map(slices().map((slice) => [slice.id, slice])));
  const names = createMemo(() => nameSlices(slices(), store.heard()?.phrases ?? []));
  const setting = createMemo((): LaneSetting => {
    const now = lane();
    const heard = store.heard();
    return now && heard ? setLane(now, slices(), heard) : { words: [], attacks: [] };
  });
  const focus = watchFocus();
  onCleanup(focus.end);
  const { sounding, passing } = createSounding({ sound, slices, lane, setting, frames });
  const parts: Parts = {
    desk,
    sound,
    settings,
    changeSettings: change,
    colours,
    messages,
    reading,
    frames,
    carrying: createCarrying(),
    holding: createHolding(),
    mark: createCutMark(sliceById, () =>
      store.session.selection.kind === 'slices' ? store.session.selection.ids : [],
    ),
    names,
    sounding,
    passing,
    slices,
    sliceById,
    lane,
    setting,
    overlay,
    setOverlay,
    passingBy: focus.passing,
    giveFocusBack: focus.giveBack,
    tapping,
    setTapping,
  };
  const actions = createActions(parts);
  const page: PageContext = { ...parts, actions, ...createPlaying(parts) };

  wireSound(page);
  listenForCommands(page);
  const dropping = createDropping(page);

  createEffect(() => {
    const playing = sound.playing();
    actions.remember(playing);
    frames.run(playing !== 'nothing');
    // The note about listening comes with the first sound that goes on by itself, and only once.
    if (playing === 'nothing' || settings.hearingNoteRead) return;
    change({ hearingNoteRead: true });
    messages.hint(
      'Playback starts quiet; only your own hand makes it louder. Turn up until it is comfortable, no further.',
      { words: 'listening', run: () => setOverlay('listening') },
    );
  });
  createEffect(() => {
    const id = store.project()?.id;
    const phrases = store.heard()?.phrases;
    if (id && phrases?.length && id !== fitted) {
      fitted = id;
      store.setSession({ zoom: fittingSpan(phrases) });
      // Whoever does not see the sheet fill is told that the wait is over.
      messages.say(
        `Heard: ${counted(phrases.length, 'line')}, ${counted(untrack(slices).length, 'slice')}.`,
      );
    }
  });
  let fitted = '';
  createEffect(() => {
    const project = store.project();
    const { selection } = store.session;
    if (!project) return;
    const left = stillChosen(project, lane()?.id ?? null, selection);
    if (left !== selection) store.setSession({ selection: left });
  });
  createEffect(() => {
    document.title = store.project() ? `${store.project()?.name} · Unclicked` : 'Unclicked';
  });
  onMount(() => void desk.openLast());
  keepOffline(messages, desk.saveNow);
  onCleanup(() => sound.stop());

  return (
    <PageProvider value={page}>
      <div class="page">
        <Head />
        <Strip />
        <main class="work">
          <Sheet />
          <Rows />
        </main>
        <Sentence />
        <LaneRegion />
      </div>
      <Carried />
      <Show when={dropping()}>
        <p class="dropping" role="status">
          Let go to open it
        </p>
      </Show>
      <Switch>
        <Match when={overlay() === 'keys'}>
          <KeysLeaf />
        </Match>
        <Match when={overlay() === 'projects'}>
          <ProjectsLeaf />
        </Match>
        <Match when={overlay() === 'listening'}>
          <ListeningLeaf />
        </Match>
        <Match when={overlay() === 'export'}>
          <ExportLeaf />
        </Match>
        <Match when={overlay() === 'tuner'}>
          <Suspense>
            <TunerLeaf />
          </Suspense>
        </Match>
      </Switch>
    </PageProvider>
  );
}
