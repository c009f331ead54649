import type { Locator, Page } from 'playwright-core';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { untilHeard } from './listening.ts';
import { boxOf } from './page-hands.ts';
import { shortTake } from './short-take.ts';
import { wideWords } from './states.ts';

/** What is chosen, by hand and by keys, and what is then spoken of and changed: that alone. */
const built = useBuiltPage();
let page: Page;
let errors: string[];

const words = () => page.locator('.sheet-words .slice');
const placed = () => page.locator('.lane-word');
const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const value = (name: string) => page.getByRole('spinbutton', { name, exact: true });
const said = () => page.locator('.sentence .said').textContent();
/** Which of several buttons are pressed, in their order. */
const chosen = (of: Locator) =>
  of.evaluateAll((all) =>
    all.flatMap((one, i) => (one.getAttribute('aria-pressed') === 'true' ? [i] : [])),
  );
const press = (of: Locator, at: number, ...modifiers: ('Shift' | 'Control')[]) =>
  of.nth(at).click({ modifiers, position: { x: 8, y: 30 } });
const undone = async () => {
  await page.keyboard.press('Escape');
  while (await page.getByRole('button', { name: /^Undo: (?!nothing)/ }).count())
    await page.keyboard.press('Control+z');
};

beforeAll(async () => {
  ({ page, errors } = await built.open({ files: shortTake() }));
  page.setDefaultTimeout(20_000);
  await words().first().waitFor();
});
beforeEach(undone);
afterEach(() => expect(errors).toEqual([]));

describe('words', () => {
  it('are chosen further and further back by keys', async () => {
    await press(words(), 3);
    for (let i = 0; i < 3; i++) await page.keyboard.press('Shift+ArrowLeft');
    expect(await chosen(words())).toEqual([0, 1, 2, 3]);
    await page.keyboard.press('Shift+ArrowRight');
    expect(await chosen(words())).toEqual([1, 2, 3]);
    await page.keyboard.press('ArrowRight');
    expect(await chosen(words())).toEqual([2]);
  });
});

describe('a range', () => {
  it('begins at what is chosen now, not at what was chosen once', async () => {
    await press(words(), 0);
    await button('Line 1').click();
    await button('make a straight loop').click();
    await placed().first().waitFor();
    const third = await words().nth(2).getAttribute('data-slice');
    await page.locator(`[data-word="${third}"]`).click();
    expect(await chosen(words())).toEqual([2]);
    await press(words(), 4, 'Shift');
    expect(await chosen(words())).toEqual([2, 3, 4]);
    await page.keyboard.press('Escape');
    await press(words(), 1, 'Shift');
    expect(await chosen(words())).toEqual([1]);
  });

  it('takes in a word that is pressed at its edge, and Control lets it go there', async () => {
    const edge = { position: { x: 1, y: 30 } };
    await press(words(), 0);
    await words()
      .nth(2)
      .click({ modifiers: ['Shift'], ...edge });
    expect(await chosen(words())).toEqual([0, 1, 2]);
    await words()
      .nth(1)
      .click({ modifiers: ['Control'], ...edge });
    expect(await chosen(words())).toEqual([0, 2]);
  });
});

describe('what is typed', () => {
  it('belongs to the words it was typed for, whatever is pressed next', async () => {
    const wide = await wideWords(page);
    const [first = 0, second = 1] = wide;
    const rings = async (at: number) => {
      await press(words(), at);
      return value('how long it rings from its landing').getAttribute('aria-valuenow');
    };
    const other = await rings(second);
    await press(words(), first);
    await value('how long it rings from its landing').click();
    await page.keyboard.type('0.11');
    await press(words(), second);
    await button('Undo: change how long it rings').waitFor();
    expect(await value('how long it rings from its landing').getAttribute('aria-valuenow')).toBe(
      other,
    );
    expect(await rings(first)).toBe('0.11');
  });
});

describe('what is typed of a time', () => {
  const typed = async (name: string, text: string) => {
    await value(name).fill(text);
    await value(name).press('Enter');
    return value(name).getAttribute('aria-valuetext');
  };
  const rings = async (text: string) => {
    await typed('how long it rings from its landing', text);
    return value('how long it rings from its landing').getAttribute('aria-valuenow');
  };

  it('is meant in its own unit, and a bare number in the one that is shown', async () => {
    const [at = 0] = await wideWords(page);
    await press(words(), at);
    expect(await rings('0.4 s')).toBe('0.4');
    expect(await rings('300 ms')).toBe('0.3');
    expect(await rings('250')).toBe('0.25');
    expect(await rings('0,2')).toBe('0.2');
    await page.locator('.pad:not(.none)').first().click();
    expect(await typed('fade out', '1.5 s')).toBe('over 1.5 s');
    expect(await typed('fade out', '2')).toBe('over 2 s');
    expect(await typed('fade out', '30')).toBe('over 30 ms');
  });

  it('and of a number is a whole word', async () => {
    await button('A new flip').click();
    expect(await typed('bars', 'sixteen')).toBe('Four bars');
    expect(await typed('bars', 'eight bars')).toBe('Eight bars');
  });
});

describe('what is being typed', () => {
  it('is taken back as in any text, not the last step', async () => {
    await button('A new flip').click();
    const title = page.getByRole('textbox', { name: 'Name of the project' });
    await title.focus();
    await title.press('End');
    await page.keyboard.type('!');
    expect(await title.inputValue()).toBe('Ebb mix!');
    await page.keyboard.press('Control+z');
    expect(await title.inputValue()).toBe('Ebb mix');
    await button('Undo: start a flip').waitFor();
    await page.keyboard.press('Escape');
  });

  it('is the input method’s as long as it composes', async () => {
    const title = page.getByRole('textbox', { name: 'Name of the project' });
    await title.focus();
    await title.dispatchEvent('keydown', { key: 'Enter', isComposing: true, bubbles: true });
    expect(await title.evaluate((one) => one === document.activeElement)).toBe(true);
    await page.keyboard.press('Escape');
  });
});

describe('a value', () => {
  it('is stepped by arrows from what is typed, as one step', async () => {
    await button('A new flip').click();
    await value('tempo').click();
    await page.keyboard.type('120');
    await page.keyboard.press('ArrowUp');
    expect(await value('tempo').getAttribute('aria-valuetext')).toBe('121 bpm');
    await page.keyboard.press('Control+z');
    await button('Undo: start a flip').waitFor();
  });

  it('that is one of a list is dragged as one step, and left by Escape', async () => {
    await button('A new flip').click();
    const grid = page.getByRole('combobox', { name: 'grid' });
    const box = await boxOf(grid);
    const drag = async () => {
      await page.mouse.move(box.x + 5, box.y + 8);
      await page.mouse.down();
      await page.mouse.move(box.x - 200, box.y + 8, { steps: 10 });
    };
    await drag();
    expect(await grid.inputValue()).toBe('4');
    await page.keyboard.press('Escape');
    await page.mouse.up();
    expect(await grid.inputValue()).toBe('16');
    await button('Undo: start a flip').waitFor();
    await drag();
    await page.mouse.up();
    expect(await grid.inputValue()).toBe('4');
    await button('Undo: change the grid').click();
    expect(await grid.inputValue()).toBe('16');
  });
});

describe('a name that is written from the right', () => {
  it('is shown from its beginning', async () => {
    const title = page.getByRole('textbox', { name: 'Name of the project' });
    await title.fill('נגן בשעת ערב');
    expect(await title.evaluate((one) => getComputedStyle(one).direction)).toBe('rtl');
    await title.fill('Ebb mix');
    expect(await title.evaluate((one) => getComputedStyle(one).direction)).toBe('ltr');
  });
});

describe('a key that is held', () => {
  it('plays a pad as long, by Enter too', async () => {
    const pad = page.locator('.pad:not(.none)').first();
    await pad.click();
    await page.getByRole('combobox', { name: 'how long it plays' }).selectOption('repeats');
    await pad.focus();
    await page.keyboard.down('Enter');
    await page.waitForFunction(() => document.querySelector('.pad.sounds') !== null);
    await untilHeard(page);
    await page.keyboard.up('Enter');
    await page.waitForFunction(() => document.querySelector('.pad.sounds') === null);
  });

  it('makes one loop, however long', async () => {
    await page.keyboard.down('Shift');
    for (let i = 0; i < 3; i++) await page.keyboard.down('L');
    await page.keyboard.up('L');
    await page.keyboard.up('Shift');
    await button('Undo: make a straight loop').waitFor();
    expect(await page.locator('.version:not(.new)').count()).toBe(1);
  });
});

describe('on the lane', () => {
  const flip = async (count: number) => {
    await button('A new flip').click();
    for (let i = 0; i < count; i++) {
      await press(words(), i);
      await button('set on the lane').click();
    }
    await page.keyboard.press('Escape');
    await expect.poll(() => placed().count()).toBe(count);
  };
  const take = (at: number, ...modifiers: ('Shift' | 'Control')[]) =>
    placed()
      .nth(at)
      .click({ modifiers, position: { x: 5, y: 40 } });

  it('a range is chosen with Shift, one more with Control, and the last one let go', async () => {
    await flip(4);
    await take(0);
    await take(2, 'Shift');
    expect(await chosen(placed())).toEqual([0, 1, 2]);
    await take(1, 'Control');
    expect(await chosen(placed())).toEqual([0, 2]);
    await take(0, 'Control');
    await take(2, 'Control');
    expect(await chosen(placed())).toEqual([]);
    expect(await button('remove').count()).toBe(0);
  });

  it('what is chosen on one version is not changed on another', async () => {
    await flip(2);
    await flip(2);
    await page.locator('.version').nth(0).click();
    await take(0);
    await page.locator('.version').nth(1).click();
    expect(await value('pitch in semitones').count()).toBe(0);
    await page.locator('.version').nth(0).click();
    await take(0);
    await value('pitch in semitones').fill('3');
    await value('pitch in semitones').press('Enter');
    await page.locator('.version').nth(1).click();
    await take(0);
    expect(await value('pitch in semitones').getAttribute('aria-valuenow')).toBe('0');
  });

  it('Escape leaves a word that is dragged where it was', async () => {
    await flip(1);
    const before = await placed().getAttribute('aria-label');
    const box = await boxOf(placed());
    await page.mouse.move(box.x + 5, box.y + 40);
    await page.mouse.down();
    await page.mouse.move(box.x + 300, box.y + 40, { steps: 4 });
    expect(await placed().getAttribute('aria-label')).not.toBe(before);
    await page.keyboard.press('Escape');
    expect(await placed().getAttribute('aria-label')).toBe(before);
    await page.mouse.move(box.x + 400, box.y + 40);
    await page.mouse.up();
    expect(await placed().getAttribute('aria-label')).toBe(before);
  });
});

describe('Ctrl A', () => {
  it('chooses every word, of the flip where the focus is on the lane, and in a text that text', async () => {
    await press(words(), 0);
    await page.keyboard.press('Control+a');
    expect((await chosen(words())).length).toBe(await words().count());
    expect(await page.evaluate(() => getSelection()?.toString())).toBe('');
    const title = page.getByRole('textbox', { name: 'Name of the project' });
    await title.focus();
    await page.keyboard.press('Control+a');
    await page.keyboard.insertText('All of it');
    await page.keyboard.press('Enter');
    expect(await title.inputValue()).toBe('All of it');
    await page.keyboard.press('Control+z');
    await press(words(), 1);
    await button('set on the lane').click();
    await press(words(), 2);
    await button('set on the lane').click();
    await placed().first().focus();
    await page.keyboard.press('Control+a');
    expect((await chosen(placed())).length).toBe(await placed().count());
    await page.keyboard.press('Delete');
    expect(await placed().count()).toBe(0);
  });
});

describe('what is gone', () => {
  it('is not spoken of any more', async () => {
    const [at = 0] = await wideWords(page);
    await press(words(), at);
    await button('delete').first().click();
    const next = await boxOf(words().nth(at));
    await page.mouse.dblclick(next.x - 20, next.y + 30);
    await button('Undo: add a slice').waitFor();
    expect(await said()).toMatch(/slice \d+ lands at/);
    await page.keyboard.press('Control+z');
    expect(await said()).not.toMatch(/lands|rings/);
    await page.getByText('Press a word or its pad').waitFor();
  });
});

describe('a beat that was just set', () => {
  it('is not said to be none while the beats are heard again', async () => {
    await page.evaluate(() => {
      const seen: string[] = [];
      const sentence = document.querySelector('.sentence') as HTMLElement;
      new MutationObserver(() => seen.push(sentence.textContent ?? '')).observe(sentence, {
        subtree: true,
        childList: true,
        characterData: true,
      });
      Object.assign(window, { seen });
    });
    const word = await boxOf(words().nth((await wideWords(page))[0] ?? 0));
    const dots = await page
      .locator('.sheet-words .beat')
      .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().x + 9));
    const free = Array.from({ length: 60 }, (_, i) => word.x + 8 + i * 4).find((x) =>
      dots.every((dot) => Math.abs(dot - x) > 24),
    );
    await page.mouse.dblclick(free ?? 0, word.y - 9);
    await page.getByText(/^Beat \d of its bar/).waitFor();
    const seen = await page.evaluate(() => (window as unknown as { seen: string[] }).seen);
    expect(seen.filter((text) => text.includes('No beat is there'))).toEqual([]);
  });
});

describe('the focus', () => {
  it('that a leaf gives back chooses nothing', async () => {
    await press(words(), 1);
    await page.keyboard.press('Escape');
    await page.keyboard.press('?');
    await page.getByRole('dialog').waitFor();
    await page.keyboard.press('Escape');
    await page.locator('dialog').waitFor({ state: 'detached' });
    expect(await chosen(words())).toEqual([]);
  });
});
