import { createEffect, createSignal, onCleanup, onMount, Show } from 'solid-js';
import type { Lane } from '../../../shared/loop/lane.ts';
import { commonRates, type PackWishes } from '../../../shared/pack/pack-wishes.ts';
import type { WavBits } from '../../../shared/take/wav-write.ts';
import { wishPack } from '../../store/project-commands.ts';
import type { NamedFile } from '../../work/desk.ts';
import { usePage } from '../page/context.ts';
import { canShare, carryOut } from '../page/files.ts';
import { type Choice, ChoiceValue } from '../sentence/choice-value.tsx';
import { figure, sizeWords } from '../sentence/words.ts';
import type { Handing } from './handing.ts';

const bits: readonly WavBits[] = ['16', '24', '32f'];
const bitWords = { '16': '16-bit', '24': '24-bit', '32f': '32-bit float' } as const;
const kilohertz = (rate: number) => `${figure(rate / 1000, 3)} kHz`;

/** "32-bit float at 44.1 kHz": how loops and slices are stored. Part of a sentence. */
export function FormatValues() {
  const { desk } = usePage();
  const { store } = desk;
  const wishes = (): PackWishes => store.project()?.pack ?? {};
  const rates = (): Choice[] => {
    const own = store.project()?.take.sampleRate ?? 44100;
    const others = [...commonRates, wishes().sampleRate ?? own].filter((rate) => rate !== own);
    return [
      { value: '', words: `the take’s ${kilohertz(own)}` },
      ...[...new Set(others)]
        .sort((a, b) => a - b)
        .map((rate) => ({ value: String(rate), words: kilohertz(rate) })),
    ];
  };
  return (
    <>
      <ChoiceValue
        name="sample format"
        value={wishes().bits ?? ''}
        choices={[
          { value: '', words: 'as finely stored as the take' },
          ...bits.map((value) => ({ value, words: bitWords[value] })),
        ]}
        change={(value) =>
          store.edit(wishPack({ bits: bits.find((one) => one === value) ?? undefined }))
        }
        after=","
      />{' '}
      at{' '}
      <ChoiceValue
        name="sample rate"
        value={wishes().sampleRate ? String(wishes().sampleRate) : ''}
        choices={rates()}
        change={(value) => store.edit(wishPack({ sampleRate: Number(value) || undefined }))}
      />
    </>
  );
}

const loudnesses = [-23, -18, -16, -14, -12];

/** "as loud as it was played": whether loops are brought to a loudness. The end of a sentence. */
function LoudnessValue() {
  const { desk } = usePage();
  const { store } = desk;
  const wished = () => store.project()?.pack?.loudness;
  const choices = () => {
    const own = wished();
    const all = own === undefined || loudnesses.includes(own) ? loudnesses : [...loudnesses, own];
    return [
      { value: '', words: 'as loud as it was played' },
      ...[...all]
        .sort((a, b) => a - b)
        .map((level) => ({ value: String(level), words: `brought to ${figure(level, 1)} LUFS` })),
    ];
  };
  return (
    <ChoiceValue
      name="how loud loops are"
      value={wished() === undefined ? '' : String(wished())}
      choices={choices()}
      change={(value) =>
        store.edit(wishPack({ loudness: value === '' ? undefined : Number(value) }))
      }
      after="."
    />
  );
}

/** The loop in view: how it is saved, shared, or drawn out of the page. */
export function LoopPart(props: { readonly lane: Lane; readonly handing: Handing }) {
  const { desk } = usePage();
  const { handing } = props;
  const [stems, setStems] = createSignal(false);
  const make = () => desk.saveLoop(props.lane.id, { stems: stems() });
  const what = () => (stems() ? 'loop with stems' : 'loop');
  let button!: HTMLButtonElement;
  // Opened with a key, one more press saves.
  onMount(() => queueMicrotask(() => button.focus()));

  return (
    <>
      <p class="leaf-line">
        The loop <em>{props.lane.name}</em> as a WAV file, <FormatValues />,{' '}
        <ChoiceValue
          name="stems"
          value={stems() ? 'with' : 'without'}
          choices={[
            { value: 'without', words: 'the mix alone' },
            { value: 'with', words: 'with each stem in a file of its own' },
          ]}
          change={(value) => setStems(value === 'with')}
          after=","
        />{' '}
        <LoudnessValue />
      </p>
      <div class="leaf-deeds">
        <button
          ref={button}
          type="button"
          class="press main"
          disabled={handing.busy()}
          onClick={() => void handing.save(make)}
        >
          Save the loop
        </button>
        <Show when={canShare('audio/wav')}>
          <button
            type="button"
            class="press"
            disabled={handing.busy()}
            onClick={() => void handing.share(what(), make)}
          >
            {handing.waiting() === what() ? 'Share it now' : 'Share the loop'}
          </button>
        </Show>
        <LoopLink />
      </div>
    </>
  );
}

/** The loop's file itself, to be drawn to another window; pressed it is saved. Made quietly, for a drag can't wait. */
function LoopLink() {
  const { desk } = usePage();
  const [made, setMade] = createSignal<{ file: NamedFile; address: string } | null>(null);
  const drop = () => {
    const now = made();
    // What reads the address may still be at it.
    if (now) setTimeout(() => URL.revokeObjectURL(now.address), 60_000);
    setMade(null);
  };
  createEffect(() => {
    // Another loop, or another wish for its file.
    desk.loop();
    desk.rendering();
    desk.store.project()?.pack;
    const stop = new AbortController();
    desk
      .loopFile(stop.signal)
      .then((file) => {
        if (!file || stop.signal.aborted) return;
        setMade({ file, address: URL.createObjectURL(file.blob) });
      })
      // It is an offer: saving says what is wrong.
      .catch(() => {});
    onCleanup(() => {
      stop.abort();
      drop();
    });
  });
  return (
    <Show when={made()}>
      {(now) => (
        <a
          class="carry"
          href={now().address}
          download={now().file.name}
          draggable="true"
          onDragStart={(event) => {
            if (event.dataTransfer) carryOut(event.dataTransfer, now().file, now().address);
          }}
        >
          <span>{now().file.name}</span>
          <span class="figure">{sizeWords(now().file.blob.size)}</span>
          <span class="note">drag it to where it goes</span>
        </a>
      )}
    </Show>
  );
}
