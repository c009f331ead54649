import { createSignal, For, Show } from 'solid-js';
import { addLane, deleteLane, duplicateLane, nextLaneId } from '../../store/lane-commands.ts';
import { recordPass, varyPlacements } from '../../store/placement-commands.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { NumberValue } from '../sentence/number-value.tsx';
import { figure } from '../sentence/words.ts';
import { flipInView } from './placing.ts';

/** Loudness always to a tenth, so that two of them can be compared. */
const loud = (lufs: number) =>
  Number.isFinite(lufs) ? lufs.toFixed(1).replace('-', '−') : 'silent';

/** The lane's versions side by side, and what is heard of them. */
export function Versions() {
  const page = usePage();
  const { desk, sound, lane, messages } = page;
  const { store } = desk;
  const lanes = () => store.project()?.lanes ?? [];
  const show = (id: string) => store.setSession({ lane: id });

  const another = (make: 'empty' | 'copy') => {
    const project = store.project();
    if (!project) return;
    const id = nextLaneId(project);
    const now = lane();
    if (make === 'copy' && now) store.edit(duplicateLane(now.id));
    else {
      const { bars, beatsPerBar, beatUnit, bpm, grid, swing } = now ?? {};
      const settings = now ? { bars, beatsPerBar, beatUnit, bpm, grid, swing } : {};
      store.edit(addLane({ kind: 'flip', placements: [] }, settings));
    }
    show(id);
  };
  const [how, setHow] = createSignal<'over' | 'instead'>('over');
  const playIn = async () => {
    if (sound.recording() !== 'no') return sound.stop();
    const project = store.project();
    if (!flipInView(page)) return;
    await sound.wake();
    // Another project may have been opened while sound woke up; its words are none of this hand's.
    const flip = flipInView(page);
    if (!flip || store.project()?.id !== project?.id) return;
    await sound.record({
      lane: flip,
      // A hand may hold a word of the lane just when a pass is over.
      pass: (hits, until) => store.edit(recordPass(flip.id, hits, how(), until), 'beside'),
    });
  };
  /** In two parts, each of which stays in one line. */
  const loudness = (): readonly [string, string] => {
    const matched = sound.matched();
    const loop = desk.loop();
    if (!loop) {
      const take = store.heard()?.loudness.integrated;
      if (take === undefined) return ['', ''];
      return Number.isFinite(take)
        ? [`take ${figure(take, 1)} LUFS`, '']
        : ['take too soft to be measured', ''];
    }
    const words = `take ${loud(loop.original.loudness.integrated)}, loop ${loud(loop.loudness.integrated)} LUFS`;
    if (!matched || !Number.isFinite(matched.original - matched.loop)) return [words, ''];
    const [who, by] =
      matched.loopBy < matched.originalBy ? ['loop', matched.loopBy] : ['take', matched.originalBy];
    return [`${words};`, by > -0.05 ? 'equally loud' : `${who} turned down ${figure(-by, 1)} dB`];
  };

  return (
    <div class="versions">
      <fieldset class="versions-list set">
        <legend class="unseen">Versions of the lane</legend>
        <For each={lanes()}>
          {(one) => (
            <button
              type="button"
              class="version"
              aria-pressed={lane()?.id === one.id}
              onClick={() => show(one.id)}
            >
              {one.name}
            </button>
          )}
        </For>
        <Show when={store.project()}>
          <button
            type="button"
            class="version new"
            aria-label="A new flip"
            onClick={() => another('empty')}
          >
            new flip
          </button>
        </Show>
      </fieldset>
      <Show when={lane()}>
        {(now) => (
          <div class="versions-deeds">
            <button type="button" class="word" onClick={() => another('copy')}>
              copy
            </button>
            <Show when={now().source.kind === 'flip'}>
              <button
                type="button"
                class="word"
                onClick={() =>
                  store.edit(varyPlacements(now().id, Math.floor(Math.random() * 2 ** 31)))
                }
              >
                vary
              </button>
            </Show>
            <button
              type="button"
              class="word"
              aria-pressed={sound.recording() !== 'no'}
              title="Counts one bar in, then takes down what is played on the pads"
              onClick={playIn}
            >
              {sound.recording() === 'counting in' ? 'counting in …' : 'play it in'}
            </button>
            <ChoiceValue
              name="how a pass is taken down"
              value={how()}
              choices={[
                { value: 'over', words: 'over it' },
                { value: 'instead', words: 'instead of it' },
              ]}
              change={(value) => setHow(value === 'instead' ? 'instead' : 'over')}
            />
            <button
              type="button"
              class="word"
              aria-pressed={sound.playing() === 'seam'}
              onClick={page.actions.playSeam}
            >
              hear the seam
            </button>
            <button
              type="button"
              class="word"
              onClick={() => {
                store.edit(deleteLane(now().id));
                messages.say('The lane is deleted.');
              }}
            >
              delete
            </button>
          </div>
        )}
      </Show>
      <div class="versions-heard">
        <p class="figure">
          <span>{loudness()[0]}</span> <span>{loudness()[1]}</span>
        </p>
        <p class="listening">
          <button type="button" class="word" onClick={() => page.setOverlay('listening')}>
            listening
          </button>{' '}
          at{' '}
          <NumberValue
            name="listening level"
            value={sound.level()}
            min={-60}
            max={0}
            step={1}
            stride={6}
            show={(level) => `${figure(level)} dB`}
            change={sound.setLevel}
          />
        </p>
      </div>
    </div>
  );
}
