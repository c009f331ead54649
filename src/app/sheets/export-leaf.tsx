import { Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { canChooseFolder, canShare, chooseFolder } from '../page/files.ts';
import { createHanding } from './handing.ts';
import { Leaf } from './leaf.tsx';
import { FormatValues, LoopPart } from './loop-part.tsx';
import { PackPart } from './pack-part.tsx';

/** What is handed over: the loop, the whole pack, the project. */
export function ExportLeaf() {
  const { desk, lane, messages } = usePage();
  const handing = createHanding(messages, desk.store.project);
  const one = <T,>(file: T | null): readonly T[] => (file ? [file] : []);
  const pack = async () => one(await desk.savePack());
  const project = async () => one(await desk.saveProject());

  return (
    <Leaf title="Save">
      <Show
        when={lane()}
        fallback={
          <>
            <p>The lane is empty: make a straight loop of a line first, or carry words there.</p>
            <p class="leaf-line">
              Slices are <FormatValues />.
            </p>
          </>
        }
      >
        {(now) => <LoopPart lane={now()} handing={handing} />}
      </Show>
      <h3>Everything</h3>
      <PackPart />
      <div class="leaf-deeds">
        <button
          type="button"
          class="press"
          disabled={handing.busy()}
          onClick={() => void handing.save(pack)}
        >
          Save the pack
        </button>
        <Show when={canChooseFolder()}>
          <button
            type="button"
            class="press"
            disabled={handing.busy()}
            onClick={() =>
              void handing.put(async () => {
                const folder = await chooseFolder();
                return folder && desk.packInto(folder);
              })
            }
          >
            Save it as a folder
          </button>
        </Show>
        <Show when={canShare('application/zip')}>
          <button
            type="button"
            class="press"
            disabled={handing.busy()}
            onClick={() => void handing.share('pack', pack)}
          >
            {handing.waiting() === 'pack' ? 'Share it now' : 'Share the pack'}
          </button>
        </Show>
        <button
          type="button"
          class="press"
          disabled={handing.busy()}
          onClick={() => void handing.save(project)}
        >
          Save the project file
        </button>
      </div>
      <p class="note clearance">
        A recording and the work that is played may belong to others. Both have to be cleared before
        they are handed on; licensed practice and local law decide how.
      </p>
      <LeafDoing />
    </Leaf>
  );
}

/** How far the work on a file is, and the way out; its place is kept while nothing is done. */
function LeafDoing() {
  const { desk } = usePage();
  return (
    <div class="leaf-doing" role="status">
      <Show when={desk.doing()}>
        {(doing) => (
          <>
            <div
              class="doing-line"
              role="progressbar"
              aria-label={doing().what}
              aria-valuemin={0}
              aria-valuemax={100}
              aria-valuenow={Math.round(doing().share * 100)}
            >
              <div style={{ transform: `scaleX(${doing().share})` }} />
            </div>
            <p class="note">{doing().what} …</p>
            <button type="button" class="word" onClick={() => doing().cancel()}>
              cancel
            </button>
          </>
        )}
      </Show>
      <Show when={!desk.doing() && desk.problem()}>{(problem) => <p>{problem()}</p>}</Show>
    </div>
  );
}
