import type { Page } from 'playwright-core';

/**
 * The states that the page can be in, in an order in which a hand comes through them: each begins where
 * the one before ended. Looked at by `states/` (nothing that axe finds fault with) and by `look.ts`
 * (pictures). The page has a take with stems when the second part begins.
 */
export interface State {
  readonly name: string;
  readonly act: (page: Page) => Promise<void>;
  /** It differs from another state by what sounds, not by how it is laid out: looked at at one size only. */
  readonly alike?: true;
  /** What has to be undone before the next state can begin. */
  readonly leave?: (page: Page) => Promise<void>;
}

const button = (page: Page, name: string | RegExp) =>
  page.getByRole('button', { name, exact: true });
const words = (page: Page) => page.locator('.sheet-words .slice');
const close = (page: Page) => button(page, 'close').click();
const letGo = (page: Page) => page.keyboard.press('Escape');
const stop = async (page: Page) => {
  await page.locator('body').press('Space');
  await page.waitForFunction(() => !document.querySelector('.transport [aria-pressed="true"]'));
};
const choose = async (page: Page, files: { name: string; mimeType: string; buffer: Buffer }[]) => {
  const choosing = page.waitForEvent('filechooser');
  return { choosing, give: async () => (await choosing).setFiles(files) };
};
const noRecording = { name: 'list.wav', mimeType: 'audio/wav', buffer: Buffer.from('no sound') };

/** Words that are wide enough for any hand, in the order in which they stand. */
export async function wideWords(page: Page): Promise<number[]> {
  return words(page).evaluateAll((all) =>
    all.flatMap((one, i) => (one.clientWidth > 44 ? [i] : [])),
  );
}

/** Before any take is open. */
export const firstStates: readonly State[] = [
  { name: 'first visit', act: (page) => button(page, 'try the demo take').waitFor() },
  {
    name: 'a file that is none',
    act: async (page) => {
      const { give } = await choose(page, [noRecording]);
      await button(page, 'open one').click();
      await give();
      await page.getByRole('alert').getByRole('button', { name: 'good' }).waitFor();
    },
    leave: (page) => button(page, 'good').click(),
  },
  {
    name: 'nothing kept yet',
    alike: true,
    act: (page) => button(page, 'projects').click(),
    leave: close,
  },
  {
    name: 'at work',
    alike: true,
    act: async (page) => {
      await button(page, 'try the demo take').click();
      await page.getByRole('progressbar').waitFor();
    },
    leave: async (page) => {
      await button(page, 'cancel').click();
      await button(page, 'try the demo take').waitFor();
    },
  },
];

/** With a take. */
export const states: readonly State[] = [
  { name: 'heard', act: (page) => words(page).first().waitFor() },
  {
    name: 'a word chosen, with the mark in it',
    act: async (page) => {
      const [at = 0] = await wideWords(page);
      await words(page).nth(at).click();
      await page.locator('.sheet-mark').waitFor();
    },
  },
  {
    name: 'several words chosen',
    alike: true,
    act: async (page) => {
      await words(page).first().focus();
      await page.keyboard.press('Shift+ArrowRight');
      await page.keyboard.press('Shift+ArrowRight');
    },
  },
  { name: 'a line chosen', act: (page) => button(page, 'Line 1').click() },
  {
    name: 'a beat chosen',
    act: async (page) => {
      await letGo(page);
      await page.locator('.sheet-words .beat').nth(2).focus();
    },
  },
  {
    name: 'a pad edited',
    act: async (page) => {
      await page.locator('.pad:not(.none)').nth(1).click();
      const pitch = page.getByRole('spinbutton', { name: 'pitch in semitones' });
      await pitch.fill('2 lower');
      await pitch.press('Enter');
      await page.getByRole('combobox', { name: 'choke group' }).selectOption('A');
    },
  },
  {
    name: 'an empty pad',
    alike: true,
    // Hearing may have filled them all.
    act: async (page) => {
      await page.locator('.pad:not(.none)').last().click();
      await button(page, 'clear').click();
      await page.locator('.pad.none').last().click();
    },
    leave: async (page) => {
      await button(page, 'Undo: clear a pad').click();
    },
  },
  {
    name: 'a straight loop',
    act: async (page) => {
      await button(page, 'Line 1').click();
      await button(page, 'make a straight loop').click();
      await page.getByText('seam: ').first().waitFor();
    },
  },
  {
    name: 'the seam is heard',
    alike: true,
    act: async (page) => {
      await button(page, 'hear the seam').click();
      await page.waitForFunction(
        () => document.querySelector('.versions-deeds [aria-pressed="true"]') !== null,
      );
    },
    leave: (page) => button(page, 'hear the seam').click(),
  },
  {
    name: 'the loop plays, with the note on levels',
    act: async (page) => {
      await button(page, 'loop').click();
      await page.locator('.lane .head-line.on').waitFor();
    },
    leave: stop,
  },
  {
    name: 'the comparison',
    alike: true,
    act: async (page) => {
      await page.getByRole('button', { name: /^Compare/ }).click();
      await page.getByRole('button', { name: /^Comparing/ }).waitFor();
    },
    leave: stop,
  },
  {
    name: 'a flip',
    act: async (page) => {
      for (const note of await button(page, 'good').all()) await note.click();
      await button(page, 'A new flip').click();
      const wide = await wideWords(page);
      for (const k of [1, 3, 0, 2]) {
        await words(page)
          .nth(wide[k % wide.length] ?? 0)
          .click();
        await button(page, 'set on the lane').click();
      }
      await letGo(page);
      await page.getByText('seam: ').first().waitFor();
    },
  },
  {
    name: 'a word of the lane chosen',
    act: (page) => page.locator('.lane-word').first().focus(),
    leave: letGo,
  },
  {
    name: 'counting in',
    act: async (page) => {
      await button(page, 'play it in').click();
      await button(page, 'counting in …').waitFor();
    },
    leave: async (page) => {
      await page.getByRole('button', { name: /^counting in|^play it in/ }).click();
    },
  },
  {
    name: 'the take plays',
    alike: true,
    act: async (page) => {
      await button(page, 'take').click();
      await page.locator('.sheet .head-line.on').waitFor();
    },
    leave: stop,
  },
  {
    name: 'beats are tapped along',
    act: async (page) => {
      await page.keyboard.press('Shift+T');
      await button(page, 'tap').waitFor();
      await page.locator('.sheet .head-line.on').waitFor();
      await page.keyboard.press('x');
      await page.getByText('One beat so far').waitFor();
    },
    leave: async (page) => {
      await letGo(page);
      // On a busy machine the take was over before all had been looked at, and the tap stayed.
      const kept = button(page, 'Undo: tap beats');
      if ((await kept.count()) > 0) await kept.click();
    },
  },
  {
    name: 'a word on its way',
    alike: true,
    act: async (page) => {
      const [at = 0] = await wideWords(page);
      const box = await words(page).nth(at).boundingBox();
      await page.mouse.move((box?.x ?? 0) + 20, (box?.y ?? 0) + 20);
      await page.mouse.down();
      await page.mouse.move((box?.x ?? 0) + 60, (box?.y ?? 0) + 90, { steps: 3 });
      await page.locator('.carried').waitFor();
    },
    leave: async (page) => {
      await letGo(page);
      await page.mouse.up();
      await letGo(page);
    },
  },
  {
    name: 'files over the page',
    alike: true,
    act: async (page) => {
      await page.evaluate(() => {
        const data = new DataTransfer();
        data.items.add(new File(['x'], 'x.wav'));
        window.dispatchEvent(new DragEvent('dragover', { dataTransfer: data, cancelable: true }));
      });
      await page.locator('.dropping').waitFor();
    },
    leave: (page) => page.evaluate(() => void window.dispatchEvent(new DragEvent('dragleave', {}))),
  },
  { name: 'keys', act: (page) => page.locator('body').press('?'), leave: close },
  {
    name: 'listening, with the stems',
    act: async (page) => {
      const lane = page.getByRole('region', { name: 'Lane' });
      await lane.getByRole('button', { name: 'listening' }).click();
      await page.getByRole('dialog').waitFor();
    },
  },
  {
    name: 'the latency test',
    alike: true,
    act: async (page) => {
      await button(page, 'measure it').click();
      await page.getByRole('button', { name: /^tap here/ }).waitFor();
    },
    leave: close,
  },
  {
    name: 'a stem that is none of the take',
    alike: true,
    act: async (page) => {
      const lane = page.getByRole('region', { name: 'Lane' });
      await lane.getByRole('button', { name: 'listening' }).click();
      const { give } = await choose(page, [noRecording]);
      await button(page, 'add stems of this take').click();
      await give();
      await page.getByText('list.wav').first().waitFor();
    },
    leave: async (page) => {
      await close(page);
      await page.getByRole('alert').getByRole('button', { name: 'good' }).click();
    },
  },
  {
    name: 'tuning',
    act: async (page) => {
      await page.locator('body').press('Shift+U');
      await page.getByRole('heading', { name: 'Tuning' }).waitFor();
      await page.getByText('Listening …').waitFor({ state: 'hidden' });
    },
    leave: close,
  },
  { name: 'save', act: (page) => button(page, 'save').click(), leave: close },
  {
    name: 'projects, one deleted',
    act: async (page) => {
      await button(page, 'projects').click();
      await page
        .getByRole('button', { name: /^Copy / })
        .first()
        .click();
      await page.waitForFunction(() => document.querySelectorAll('.projects-list li').length > 1);
      await page
        .getByRole('button', { name: /^Delete / })
        .first()
        .click();
      await page.waitForFunction(() => document.querySelectorAll('.projects-list li').length === 1);
    },
    leave: close,
  },
];
