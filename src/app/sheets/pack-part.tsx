import { createMemo } from 'solid-js';
import { loopTitles } from '../../../shared/pack/loop-names.ts';
import { defaultTemplates, fillTemplate } from '../../../shared/pack/names.ts';
import {
  longestLine,
  longestText,
  loopWords,
  type PackWishes,
  packings,
  sliceWords,
  templateProblem,
} from '../../../shared/pack/pack-wishes.ts';
import { wishPack } from '../../store/project-commands.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { TextValue } from '../sentence/text-value.tsx';

const packingWords = {
  stored: 'as they are',
  texts: 'the texts deflated',
  deflated: 'everything made here deflated',
} as const;

/** What the pack says and holds: title, artist, credits, terms, names, slices. */
export function PackPart() {
  const { desk, lane } = usePage();
  const { store } = desk;
  const wishes = (): PackWishes => store.project()?.pack ?? {};
  const wish = (patch: PackWishes) => store.edit(wishPack(patch));
  const title = () => wishes().title ?? store.project()?.name ?? '';

  const loopExample = createMemo(() => {
    const now = lane();
    const project = store.project();
    const heard = store.heard();
    if (!now || !project || !heard) return null;
    const origin = { name: project.name, changed: '', take: { hash: '' }, heard };
    return loopTitles([{ part: 'mix', variant: null }], now, origin, wishes())[0];
  });
  const sliceExample = () =>
    fillTemplate(wishes().sliceName ?? defaultTemplates.slice, {
      take: title(),
      line: '03',
      place: '05',
      note: 'A3',
      stem: 'mix',
    });
  const text = (what: 'credits' | 'terms', words: string, hint: string) => (
    <label class="written">
      {words}
      <textarea
        dir="auto"
        rows={3}
        maxLength={longestText}
        placeholder={hint}
        value={wishes()[what] ?? ''}
        onChange={(event) => wish({ [what]: event.currentTarget.value })}
        onKeyDown={(event) => {
          if (event.key !== 'Escape') return;
          event.preventDefault();
          event.currentTarget.value = wishes()[what] ?? '';
          event.currentTarget.blur();
        }}
      />
    </label>
  );

  return (
    <>
      <p class="leaf-line">
        The take with its tempo map, every loop with its stems, slices{' '}
        <ChoiceValue
          name="which slices are packed"
          value={wishes().stemSlices ? 'stems' : 'mix'}
          choices={[
            { value: 'mix', words: 'of the mix' },
            { value: 'stems', words: 'of the mix and of every stem' },
          ]}
          change={(value) => wish({ stemSlices: value === 'stems' || undefined })}
        />{' '}
        and a report, in one zip with{' '}
        <ChoiceValue
          name="how the zip is packed"
          value={wishes().packing ?? 'texts'}
          choices={packings.map((value) => ({ value, words: packingWords[value] }))}
          change={(value) => {
            const packing = packings.find((one) => one === value);
            wish({ packing: packing === 'texts' ? undefined : packing });
          }}
          after="."
        />{' '}
        It is called{' '}
        <TextValue
          name="title of the pack"
          value={wishes().title ?? ''}
          empty={store.project()?.name ?? ''}
          longest={longestLine}
          change={(value) => wish({ title: value })}
          after=","
        />{' '}
        by{' '}
        <TextValue
          name="artist"
          value={wishes().artist ?? ''}
          empty="nobody named"
          longest={longestLine}
          change={(value) => wish({ artist: value })}
          after="."
        />
      </p>
      <details class="leaf-more">
        <summary>credits, terms and names</summary>
        <div class="written-pair">
          {text('credits', 'Credits', 'Who played, wrote and recorded it, where and when')}
          {text('terms', 'Terms', 'What may be done with it')}
        </div>
        <p class="leaf-line">
          Loops are named{' '}
          <TextValue
            name="name of loops"
            value={wishes().loopName ?? ''}
            empty={defaultTemplates.loop}
            longest={longestLine}
            check={(value) => templateProblem(value, loopWords)}
            change={(value) => wish({ loopName: value })}
            after=","
          />{' '}
          slices{' '}
          <TextValue
            name="name of slices"
            value={wishes().sliceName ?? ''}
            empty={defaultTemplates.slice}
            longest={longestLine}
            check={(value) => templateProblem(value, sliceWords)}
            change={(value) => wish({ sliceName: value })}
            after="."
          />
        </p>
        <p class="note">
          {loopExample() ? `As in: ${loopExample()}.wav, ` : 'As in: '}
          {sliceExample()}.wav
        </p>
      </details>
    </>
  );
}
